/** What the list of what is missing can name, as it is said where it was set aside. */
const names = {
  system: 'A system',
  tank: 'A tank',
  rack: 'A rack',
  lot: 'A lot',
  reading: 'A first reading',
  untested: 'Systems that were never tested',
  bands: 'Target bands',
  starting: 'Bands to confirm',
  survey: 'Light surveys',
  lamp: 'Lamps of racks',
  flow: 'Flow at the slots',
  dosers: 'Doses of dosers',
  doses: 'Doses',
  changes: 'Water changes',
  makeUp: 'Make-up water',
  kit: 'Checks of kits',
  slotSize: 'Sizes of slots',
  volume: 'Net volumes beside tanks',
  lotSize: 'Sizes of pieces',
  kits: 'Test kits',
  productEffects: 'What dosed products raise',
  probeNames: 'Probes that report in vain',
  routines: 'Routines',
  roundPlan: 'A plan of rounds',
  contacts: 'Contacts on call',
  address: 'An address for QR codes',
  backups: 'Backups',
  webhooks: 'Webhooks',
  https: 'HTTPS',
} as const;

export type ItemCode = keyof typeof names;

/** The name of an item; null for one that the list never names. */
export const itemName = (item: string): string | null =>
  Object.hasOwn(names, item) ? names[item as ItemCode] : null;
