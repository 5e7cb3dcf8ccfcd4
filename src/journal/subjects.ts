import type pg from 'pg';
import type { SqlReader } from '../platform/database/sql-reader.ts';
import type { JournalKind, JournalSubject } from '../platform/journal-kinds.ts';

/** A noun that journal lines are about. */
export type SubjectType = JournalSubject<JournalKind>['type'];

interface Subject {
  /** What a list of its kind is called. */
  many: string;
  /** SQL of its name; `it` is its row. */
  name: string;
  /** SQL of its page; left out where it has none of its own. */
  href?: string;
  /** SQL of where its rows are, as `it`, with what the name needs beside. */
  from: string;
}

/** SQL of a date as people read it: "24 Nov 2026". */
const dayText = (column: string) => `to_char(${column}, 'FMDD Mon YYYY')`;
const ofSystem = 'JOIN system ON system.id = it.system_id';
const ofKit = 'JOIN kit ON kit.id = it.kit_id';

/** What each noun is called, where its page is, and which rows have it. */
export const subjects: Readonly<Record<SubjectType, Subject>> = {
  access_key: { many: 'Access keys', name: 'it.name', href: `'/people/keys'`, from: 'FROM access_key it' },
  acclimation: {
    many: 'Acclimations',
    name: 'it.name',
    href: `'/stock/acclimations/' || it.id`,
    from: 'FROM acclimation it',
  },
  account: { many: 'People', name: 'it.name', href: `'/people/' || it.id`, from: 'FROM account it' },
  alert: { many: 'Alerts', name: 'it.title', href: `'/watch/' || it.id`, from: 'FROM alert it' },
  backup: { many: 'Backups', name: `'Backup ' || it.file`, href: `'/backups'`, from: 'FROM backup it' },
  check_reading: {
    many: 'Tests of standards',
    name: `kit.label || ', standard ' || it.standard_value`,
    href: `'/water/kits/' || kit.id`,
    from: `FROM check_reading it ${ofKit}`,
  },
  circuit: { many: 'Circuits', name: 'it.name', href: `'/farm/circuits/' || it.id`, from: 'FROM circuit it' },
  contact: {
    many: 'Contacts',
    name: `coalesce(nullif(it.name, ''), it.role::text)`,
    href: `'/farm/contacts/' || it.id`,
    from: 'FROM contact it',
  },
  correction: {
    many: 'Corrections',
    name: `quantity.name || ', ' || system.name`,
    href: `'/water/corrections/' || it.id`,
    from: `FROM correction it ${ofSystem} JOIN quantity ON quantity.code = it.quantity_code`,
  },
  digest: {
    many: 'Digests',
    name: `'Digest of ' || ${dayText('it.day')}`,
    href: `'/digest/' || it.day`,
    from: 'FROM digest it',
  },
  digest_receiver: {
    many: 'Receivers of the digest',
    name: 'it.name',
    href: `'/digest/receivers'`,
    from: 'FROM digest_receiver it',
  },
  dose: {
    many: 'Doses',
    name: `it.substance || ', ' || system.name`,
    href: `'/water/systems/' || it.system_id || '/doses'`,
    from: `FROM dose it ${ofSystem}`,
  },
  emergency: {
    many: 'Emergencies',
    name: 'it.title',
    href: `'/emergencies/' || it.id`,
    from: 'FROM emergency it',
  },
  equipment: {
    many: 'Equipment',
    name: 'it.name',
    href: `'/farm/equipment/' || it.id`,
    from: 'FROM equipment it',
  },
  delivery: {
    many: 'Deliveries',
    name: 'it.supplier',
    href: `'/stock/deliveries/' || it.id`,
    from: 'FROM delivery it',
  },
  fault: {
    many: 'Faults',
    name: `it.seen || ', ' || system.name`,
    href: `'/farm/systems/' || it.system_id || '/faults'`,
    from: `FROM fault it ${ofSystem}`,
  },
  feeding: {
    many: 'Feedings',
    name: `it.food || ', ' || system.name`,
    href: `'/water/systems/' || it.system_id || '/feedings'`,
    from: `FROM feeding it ${ofSystem}`,
  },
  import: {
    many: 'Files',
    name: 'it.file_name',
    href: `CASE it.holds WHEN 'readings' THEN '/water/imports/' WHEN 'lots' THEN '/stock/imports/' ELSE '/water/log-files/' END || it.id`,
    from: 'FROM import it',
  },
  kind: { many: 'Kinds of coral', name: 'it.name', href: `'/kinds/' || it.code`, from: 'FROM kind it' },
  kit: { many: 'Kits', name: 'it.label', href: `'/water/kits/' || it.id`, from: 'FROM kit it' },
  kit_pair: {
    many: 'Comparisons of kits',
    name: 'kit.label',
    href: `'/water/kits/' || kit.id`,
    from: `FROM kit_pair it ${ofKit}`,
  },
  label_sheet: { many: 'Label sheets', name: 'it.name', href: `'/tags/sheets'`, from: 'FROM label_sheet it' },
  lamp: { many: 'Lamps', name: 'it.name', href: `'/lamps/' || it.id || '/settings'`, from: 'FROM lamp it' },
  letter: {
    many: 'Mails',
    name: `'Digest of ' || ${dayText('digest.day')} || ' to ' || digest_receiver.name`,
    from: 'FROM letter it JOIN digest ON digest.id = it.digest_id JOIN digest_receiver ON digest_receiver.id = it.receiver_id',
  },
  lot: {
    many: 'Lots',
    name: `it.code || ' ' || kind.name`,
    href: `'/stock/' || it.code`,
    from: 'FROM lot it JOIN kind ON kind.id = it.kind_id',
  },
  method: {
    many: 'Test methods',
    name: 'it.name',
    href: `'/water/methods/' || it.id`,
    from: 'FROM method it',
  },
  move_plan: {
    many: 'Plans of moves',
    name: 'it.name',
    href: `'/moves/' || it.id`,
    from: 'FROM move_plan it',
  },
  rack: { many: 'Racks', name: 'it.name', href: `'/racks/' || it.id`, from: 'FROM rack it' },
  reading: {
    many: 'Readings',
    name: `quantity.name || ', ' || system.name`,
    href: `'/water/readings/' || it.id`,
    from: `FROM reading it ${ofSystem} JOIN quantity ON quantity.code = it.quantity_code`,
  },
  round: {
    many: 'Rounds',
    name: `round_plan.name || ', ' || ${dayText('it.day')}`,
    href: `'/rounds/' || it.id`,
    from: 'FROM round it JOIN round_plan ON round_plan.id = it.plan_id',
  },
  room: { many: 'Rooms', name: 'it.name', href: `'/farm/rooms/' || it.id`, from: 'FROM room it' },
  round_entry: {
    many: 'Round entries',
    name: `round_plan.name || ', ' || ${dayText('round.day')}`,
    href: `'/rounds/' || round.id`,
    from: 'FROM round_entry it JOIN round ON round.id = it.round_id JOIN round_plan ON round_plan.id = round.plan_id',
  },
  round_plan: {
    many: 'Round plans',
    name: 'it.name',
    href: `'/rounds/plans/' || it.id`,
    from: 'FROM round_plan it',
  },
  routine: {
    many: 'Routines',
    name: `coalesce(quantity.name, replace(it.work::text, '_', ' ')) || ', ' || system.name`,
    href: `'/water/routines/' || it.id`,
    from: `FROM routine it ${ofSystem} LEFT JOIN quantity ON quantity.code = it.quantity_code`,
  },
  sales_order: {
    many: 'Orders',
    name: `'Order ' || it.number || CASE WHEN it.buyer = '' THEN '' ELSE ', ' || it.buyer END`,
    href: `'/stock/orders/' || it.id`,
    from: 'FROM sales_order it',
  },
  site: { many: 'The site', name: 'it.name', href: `'/farm/site'`, from: 'FROM site it' },
  stocktake: {
    many: 'Stocktakes',
    name: 'it.name',
    href: `'/stock/stocktakes/' || it.id`,
    from: 'FROM stocktake it',
  },
  switched_off: {
    many: 'Switched off',
    name: 'it.what',
    href: `'/farm/switched-off/' || it.id`,
    from: 'FROM switched_off it',
  },
  system: { many: 'Systems', name: 'it.name', href: `'/water/systems/' || it.id`, from: 'FROM system it' },
  system_event: {
    many: 'Events',
    name: 'system.name',
    href: `'/farm/systems/' || it.system_id || '/events'`,
    from: `FROM system_event it ${ofSystem}`,
  },
  tablet: { many: 'Tablets', name: 'it.name', href: `'/people/tablets/' || it.id`, from: 'FROM tablet it' },
  tag: {
    many: 'Tags',
    name: `'Tag of ' || lot.code`,
    href: `'/tags/' || it.id`,
    from: 'FROM tag it JOIN lot ON lot.id = it.lot_id',
  },
  tank: { many: 'Tanks', name: 'it.name', href: `'/tanks/' || it.id`, from: 'FROM tank it' },
  water_change: {
    many: 'Water changes',
    name: 'system.name',
    href: `'/water/systems/' || it.system_id || '/water-changes'`,
    from: `FROM water_change it ${ofSystem}`,
  },
};

/** What a line is about, by name. */
export interface NamedSubject {
  type: SubjectType;
  id: string;
  name: string;
  href: string | null;
}

const rowsOf = ([type, { name, href = 'NULL', from }]: [string, Subject], where: string) =>
  `SELECT '${type}' AS type, it.id, ${name} AS name, ${href} AS href ${from} WHERE ${where}`;

const byIds = Object.entries(subjects)
  .map((entry) => rowsOf(entry, 'it.id = ANY($1::uuid[])'))
  .join(' UNION ALL ');

/** The names of everything that these ids belong to; ids that are no subject's are left out. One query. */
export async function namesOf(pool: SqlReader, ids: readonly string[]): Promise<Map<string, NamedSubject>> {
  const { rows } = await pool.query<NamedSubject>(byIds, [ids]);
  return new Map(rows.map((row) => [row.id, row]));
}

/** Nouns that people know by a name of their own: the ones a search looks through. */
const searched: readonly SubjectType[] = [
  'account',
  'contact',
  'circuit',
  'equipment',
  'kind',
  'kit',
  'lamp',
  'lot',
  'method',
  'rack',
  'room',
  'round_plan',
  'system',
  'tank',
];

const mostFound = 500;

const bySearch = `SELECT id FROM (${searched
  .map((type) => rowsOf([type, subjects[type]], `${subjects[type].name} ILIKE $1`))
  .join(' UNION ALL ')}) AS found LIMIT ${mostFound}`;

const literally = (text: string) => text.replace(/[\\%_]/g, '\\$&');

/** The ids of what has this text in its name or code: lots, racks, systems and what else people call by a name. */
export async function subjectsNamed(pool: pg.Pool, text: string): Promise<string[]> {
  const { rows } = await pool.query<{ id: string }>(bySearch, [`%${literally(text)}%`]);
  return rows.map(({ id }) => id);
}
