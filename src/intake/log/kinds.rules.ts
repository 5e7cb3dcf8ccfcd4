/** What the rows of a file of what was done can be; also what `import.holds` says. */
export const logKinds = ['doses', 'water_changes', 'feedings', 'upkeep'] as const;
export type LogKind = (typeof logKinds)[number];

export const isLogKind = (text: string): text is LogKind => (logKinds as readonly string[]).includes(text);

interface KindWords {
  name: string;
  one: string;
  many: string;
  /** What its columns are, for the page that asks for a file. */
  columns: string;
}

export const logKindWords: Readonly<Record<LogKind, KindWords>> = {
  doses: {
    name: 'Doses',
    one: 'dose',
    many: 'doses',
    columns:
      'system, day and time, what was dosed, amount and unit, who, a note; what it raises and by how much where that is known',
  },
  water_changes: {
    name: 'Water changes',
    one: 'water change',
    many: 'water changes',
    columns: 'system, day and time, amount in litres, gallons or per cent, which new water, who, a note',
  },
  feedings: {
    name: 'Feedings',
    one: 'feeding',
    many: 'feedings',
    columns:
      'system, day and time, food, amount and unit, tank, how long the pumps were off, how the stock took it, who',
  },
  upkeep: {
    name: 'Services and tests of equipment',
    one: 'service or test',
    many: 'services and tests',
    columns: 'device or circuit, day and time, service or test, who, a note',
  },
};
