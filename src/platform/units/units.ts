import { AsyncLocalStorage } from 'node:async_hooks';

/** The units that people can choose, by what is measured. The first of each is the farm's own where nobody chose. */
export const unitChoices = {
  volume: ['L', 'gal (US)', 'gal (UK)'],
  length: ['cm', 'in'],
  mass: ['g', 'oz'],
  temperature: ['degC', 'degF'],
  alkalinity: ['dKH', 'meq/L', 'mg/L CaCO3'],
  salinity: ['PSU', 'SG 25/25', 'SG 20/20', 'SG 60F/60F', 'SG 20/4'],
} as const;

/** What a person reads in an own unit, else as the farm shows it (Water, Units). */
export const ownQuantities = ['temperature', 'alkalinity', 'salinity'] as const;

/** In which units somebody reads and types. Null for a quantity: as the farm shows it (Water, Units). */
export interface Units {
  volume: (typeof unitChoices.volume)[number];
  length: (typeof unitChoices.length)[number];
  mass: (typeof unitChoices.mass)[number];
  temperature: (typeof unitChoices.temperature)[number] | null;
  alkalinity: (typeof unitChoices.alkalinity)[number] | null;
  salinity: (typeof unitChoices.salinity)[number] | null;
  /** In which units the farm shows these quantities; left out where that is not known. */
  farmShows?: Readonly<Record<string, string>> | null;
}

/** What was chosen; null: nothing. */
export type ChosenUnits = { [Measured in keyof Units]?: Units[Measured] | null };

/** The units of what is stored and of the API. */
export const canonicalUnits: Units = {
  ...{ volume: 'L', length: 'cm', mass: 'g' },
  ...{ temperature: null, alkalinity: null, salinity: null },
};

interface Around {
  units: Units;
  /** The words are kept and read later, by people with units of their own. */
  kept: boolean;
}

const around = new AsyncLocalStorage<Around>();

/** The units of whoever the words are for, or who typed what is read; canonical outside a request. */
export const unitsNow = (): Units => around.getStore()?.units ?? canonicalUnits;

/** Does something for somebody who reads and types in these units. */
export const inUnits = <T>(units: Units, act: () => T): T => around.run({ units, kept: false }, act);

/** Makes words that are kept: their figures stay figures (`kept-words.ts`), so that each reader has them in own units. */
export const inKeptWords = <T>(units: Units, act: () => T): T => around.run({ units, kept: true }, act);

/** Whether the words that are made now are kept. */
export const areKept = (): boolean => around.getStore()?.kept ?? false;

/** A person's own choice before the site's. */
export const unitsOf = (own: ChosenUnits, site: ChosenUnits): Units => ({
  volume: own.volume ?? site.volume ?? canonicalUnits.volume,
  length: own.length ?? site.length ?? canonicalUnits.length,
  mass: own.mass ?? site.mass ?? canonicalUnits.mass,
  temperature: own.temperature ?? site.temperature ?? null,
  alkalinity: own.alkalinity ?? site.alkalinity ?? null,
  salinity: own.salinity ?? site.salinity ?? null,
  ...(site.farmShows ? { farmShows: site.farmShows } : {}),
});

/** The units as a form carries them, so that it is read as it was drawn: "gal (US)|in|oz|degF||"; "" for canonical ones. */
export function unitsText(units: Units): string {
  const { volume, length, mass, temperature, alkalinity, salinity } = units;
  const text = [volume, length, mass, temperature, alkalinity, salinity].map((unit) => unit ?? '').join('|');
  return text === 'L|cm|g|||' ? '' : text;
}

/** Reads {@link unitsText}; canonical for anything else. */
export function unitsFrom(text: unknown): Units {
  if (typeof text !== 'string') return canonicalUnits;
  const [volume, length, mass, temperature, alkalinity, salinity] = text.split('|');
  const of = <T extends string>(choices: readonly T[], said: string | undefined): T | null =>
    choices.find((choice) => choice === said) ?? null;
  return unitsOf(
    {
      volume: of(unitChoices.volume, volume),
      length: of(unitChoices.length, length),
      mass: of(unitChoices.mass, mass),
      temperature: of(unitChoices.temperature, temperature),
      alkalinity: of(unitChoices.alkalinity, alkalinity),
      salinity: of(unitChoices.salinity, salinity),
    },
    {},
  );
}

const names: Readonly<Record<string, string>> = {
  'gal (US)': 'US gal',
  'gal (UK)': 'imp. gal',
  degC: '°C',
  degF: '°F',
  'mg/L CaCO3': 'mg/L CaCO₃ (ppm)',
};

/** A unit as people write it: "US gal". */
export const unitText = (unit: string): string => names[unit] ?? unit;

/** The unit that whoever reads chose for a quantity; null where it is the farm's. */
export const ownUnit = (code: string): string | null =>
  (ownQuantities as readonly string[]).includes(code)
    ? unitsNow()[code as (typeof ownQuantities)[number]]
    : null;

/** The units of one measure, to choose from. */
export const unitOptions = (measured: keyof typeof unitChoices): { value: string; text: string }[] =>
  unitChoices[measured].map((unit) => ({ value: unit, text: unitText(unit) }));
