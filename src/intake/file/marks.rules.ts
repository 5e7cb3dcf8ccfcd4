import type { ColumnLayout } from './layout.rules.ts';

/** What parts a number's whole from its fraction. */
export type DecimalMark = '.' | ',';

/** The decimal marks that the numbers of a file show, by column; each null where nothing shows it, or both are shown. */
export interface DecimalMarks {
  ofFile: DecimalMark | null;
  ofColumns: ReadonlyMap<number, DecimalMark | null>;
}

const other = { '.': ',', ',': '.' } as const;
const number = /^[<>≤≥=\s]*[+\-−]?(\d[\d.,]*)$/;

/**
 * The decimal mark that one number shows: its last mark where it has both; a single one that no three digits follow, or
 * that follows a zero or more than three digits; the other one where its mark comes twice. "1.350" and "1350" show none.
 */
export function shownMark(text: string): DecimalMark | null {
  const digits = number.exec(text)?.[1];
  const marks = digits?.match(/[.,]/g) as DecimalMark[] | null | undefined;
  if (digits === undefined || !marks?.length) return null;
  const last = marks.at(-1) as DecimalMark;
  if (marks.some((mark) => mark !== last)) return last;
  if (marks.length > 1) return other[last];
  const [whole = '', fraction = ''] = digits.split(last);
  if (fraction === '') return null;
  return fraction.length === 3 && /^[1-9]\d{0,2}$/.test(whole) ? null : last;
}

/** Gathers what the columns of values show of the decimal mark. */
export function decimalMarks(
  { columns, headRow }: ColumnLayout,
  rows: readonly (readonly string[])[],
): DecimalMarks {
  const indexes = columns.flatMap(({ meaning }, index) =>
    meaning === 'value' || meaning.startsWith('q:') ? [index] : [],
  );
  const seen = new Map(indexes.map((index) => [index, new Set<DecimalMark>()]));
  for (const cells of rows.slice(headRow)) {
    for (const [index, marks] of seen) {
      const mark = shownMark(cells[index] ?? '');
      if (mark !== null) marks.add(mark);
    }
  }
  const all = new Set([...seen.values()].flatMap((marks) => [...marks]));
  return {
    ofFile: theOnly(all),
    ofColumns: new Map([...seen].map(([index, marks]) => [index, theOnly(marks)])),
  };
}

const theOnly = (marks: ReadonlySet<DecimalMark>): DecimalMark | null =>
  marks.size === 1 ? ([...marks][0] ?? null) : null;
