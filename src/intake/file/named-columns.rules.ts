import { normalizeName } from './names.rules.ts';
import type { Answers } from './questions.rules.ts';
import { headParts, headRowByShape, longestWord, rowsSearched } from './sheet-shape.rules.ts';

/** Heads that mean the same in every kind of file, in lower case and without marks, in six languages (common practice). */
export const usualHeads = {
  system: [
    'system',
    'systemname',
    'water',
    'anlage',
    'becken',
    'bac',
    'système',
    'systeme',
    'sistema',
    'tanque',
    'acuario',
    'vasca',
    'systeem',
    'bak',
  ],
  date: ['date', 'day', 'datum', 'fecha', 'data', 'jour'],
  time: ['time', 'clock', 'timeofday', 'uhrzeit', 'zeit', 'heure', 'hora', 'ora', 'tijd'],
  unit: ['unit', 'units', 'uom', 'einheit', 'unité', 'unidad', 'unità', 'eenheid'],
  note: [
    'note',
    'notes',
    'comment',
    'comments',
    'remark',
    'remarks',
    'notiz',
    'notizen',
    'bemerkung',
    'bemerkungen',
    'anmerkung',
    'kommentar',
    'remarque',
    'remarques',
    'nota',
    'notas',
    'comentario',
    'observaciones',
    'osservazioni',
    'opmerking',
    'opmerkingen',
  ],
} as const;

/** One column: its head, what it holds, and the unit or currency that the head names in brackets. */
export interface NamedColumn<Meaning extends string> {
  head: string;
  meaning: Meaning | 'ignore';
  unit: string;
}

/** Which row holds the heads (1 for the first, 0 for none), and what each column holds. */
export interface NamedLayout<Meaning extends string> {
  headRow: number;
  columns: NamedColumn<Meaning>[];
}

/** How many columns are read, and how many rows show a file's width. */
const [mostColumns, rowsMeasured] = [100, 50];

/** The columns as their heads say them, looked at beside each other and beside what stands in them. */
type Settle<Meaning extends string> = (
  columns: readonly NamedColumn<Meaning>[],
  body: readonly (readonly string[])[],
) => NamedColumn<Meaning>[];

/**
 * Reads what columns hold by the words of their heads.
 * @param heads each meaning with the heads that name it, in lower case and without marks
 * @param settle what heads alone do not tell; an answer counts more
 */
export function columnNames<Meaning extends string>(
  heads: Readonly<Record<Meaning, readonly string[]>>,
  settle: Settle<Meaning> = (columns) => [...columns],
) {
  const meanings = Object.keys(heads) as Meaning[];
  const byHead = new Map(meanings.flatMap((meaning) => heads[meaning].map((word) => [word, meaning])));
  const isMeaning = (text: string): text is Meaning | 'ignore' =>
    text === 'ignore' || Object.hasOwn(heads, text);

  const columnOf = (head: string): NamedColumn<Meaning> => {
    if (head.length > longestWord) return { head, meaning: 'ignore', unit: '' };
    const [, name = head, unit = ''] = /^(.*?)\s*[([]\s*([^)\]]*)\s*[)\]]\s*$/.exec(head) ?? [];
    const known = [head, name, ...headParts(name)].map((word) => byHead.get(normalizeName(word)));
    return { head, meaning: known.find((one) => one !== undefined) ?? 'ignore', unit };
  };

  const guessHeadRow = (rows: readonly (readonly string[])[]): number => {
    const scores = rows
      .slice(0, rowsSearched)
      .map((row) => row.filter((cell) => columnOf(cell).meaning !== 'ignore').length);
    const best = Math.max(0, ...scores);
    return best >= 2 ? scores.indexOf(best) + 1 : headRowByShape(rows);
  };

  /** The layout as answered, else as guessed. Of two columns of one meaning the first has it. */
  const layout = (rows: readonly (readonly string[])[], answers: Answers): NamedLayout<Meaning> => {
    const chosen = Number(answers.head ?? Number.NaN);
    const headRow =
      Number.isInteger(chosen) && chosen >= 0 && chosen <= rows.length ? chosen : guessHeadRow(rows);
    const named = headRow === 0 ? [] : (rows[headRow - 1] ?? []);
    const measured = rows.slice(0, rowsMeasured).map((row) => row.length);
    const width = headRow > 0 ? named.length : Math.max(0, ...measured);
    const taken = new Set<string>();
    const told = Array.from({ length: Math.min(width, mostColumns) }, (_, i) => columnOf(named[i] ?? ''));
    const columns = settle(told, rows.slice(headRow)).map((column, i) => {
      const answered = answers[`column-${i}`];
      const meaning = answered !== undefined && isMeaning(answered) ? answered : column.meaning;
      if (meaning !== 'ignore' && taken.has(meaning)) return { ...column, meaning: 'ignore' as const };
      taken.add(meaning);
      return { ...column, meaning };
    });
    return { headRow, columns };
  };
  return { layout };
}

/** Where each meaning's column is. */
export function placesOf<Meaning extends string>({ columns }: NamedLayout<Meaning>): Map<Meaning, number> {
  return new Map(
    columns.flatMap(({ meaning }, index) => (meaning === 'ignore' ? [] : [[meaning, index] as const])),
  );
}
