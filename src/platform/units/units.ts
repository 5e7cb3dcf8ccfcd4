import { AsyncLocalStorage } from 'node:async_hooks';

/** The units that people can choose, by what is measured. The first of each is the farm's own where nobody chose. */
export const unitChoices = {
  volume: ['L', 'gal (US)', 'gal (UK)'],
  length: ['cm', 'in'],
  mass: ['g', 'oz'],
  temperature: ['degC', 'degF'],
} as const;

/** In which units somebody reads and types. `temperature` null: as the farm shows it (Water, Units). */
export interface Units {
  volume: (typeof unitChoices.volume)[number];
  length: (typeof unitChoices.length)[number];
  mass: (typeof unitChoices.mass)[number];
  temperature: (typeof unitChoices.temperature)[number] | null;
}

/** What was chosen; null: nothing. */
export type ChosenUnits = { [Measured in keyof Units]?: Units[Measured] | null };

/** The units of what is stored and of the API. */
export const canonicalUnits: Units = { volume: 'L', length: 'cm', mass: 'g', temperature: null };

const around = new AsyncLocalStorage<Units>();

/** The units of whoever the words are for, or who typed what is read; canonical outside a request. */
export const unitsNow = (): Units => around.getStore() ?? canonicalUnits;

/** Does something for somebody who reads and types in these units. */
export const inUnits = <T>(units: Units, act: () => T): T => around.run(units, act);

/** A person's own choice before the site's. */
export const unitsOf = (own: ChosenUnits, site: ChosenUnits): Units => ({
  volume: own.volume ?? site.volume ?? canonicalUnits.volume,
  length: own.length ?? site.length ?? canonicalUnits.length,
  mass: own.mass ?? site.mass ?? canonicalUnits.mass,
  temperature: own.temperature ?? site.temperature ?? null,
});

/** The units as a form carries them, so that it is read as it was drawn: "gal (US)|in|oz|degF"; "" for canonical ones. */
export function unitsText({ volume, length, mass, temperature }: Units): string {
  const text = [volume, length, mass, temperature ?? ''].join('|');
  return text === 'L|cm|g|' ? '' : text;
}

/** Reads {@link unitsText}; canonical for anything else. */
export function unitsFrom(text: unknown): Units {
  if (typeof text !== 'string') return canonicalUnits;
  const [volume, length, mass, temperature] = text.split('|');
  const of = <T extends string>(choices: readonly T[], said: string | undefined): T | null =>
    choices.find((choice) => choice === said) ?? null;
  return unitsOf(
    {
      volume: of(unitChoices.volume, volume),
      length: of(unitChoices.length, length),
      mass: of(unitChoices.mass, mass),
      temperature: of(unitChoices.temperature, temperature),
    },
    {},
  );
}

const names: Readonly<Record<string, string>> = {
  'gal (US)': 'US gal',
  'gal (UK)': 'imp. gal',
  degC: '°C',
  degF: '°F',
};

/** A unit as people write it: "US gal". */
export const unitText = (unit: string): string => names[unit] ?? unit;

/** The units of one measure, to choose from. */
export const unitOptions = (measured: keyof typeof unitChoices): { value: string; text: string }[] =>
  unitChoices[measured].map((unit) => ({ value: unit, text: unitText(unit) }));
