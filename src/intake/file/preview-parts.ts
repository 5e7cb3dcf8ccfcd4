import { numberWords, plural } from '../../platform/words/numbers.ts';
import type { NamedLayout } from './named-columns.rules.ts';
import type { Question } from './questions.rules.ts';
import { separators } from './table.ts';
import { encodingNames, encodings } from './text.rules.ts';

const samplesShown = 3;

/** "Rows 3, 7, …", or nothing where no row is named. */
export function rowWords({ rows, count }: { rows: readonly number[]; count: number }): string {
  if (rows.length === 0) return '';
  return `${rows.length > 1 ? 'Rows' : 'Row'} ${rows.join(', ')}${count > rows.length ? ', …' : ''}`;
}

/** A question as the page asks it: with its first rows, and what an answer would cover. */
export function questionView({ rows, count, cases, casesBeyond, proposed = '', ...question }: Question) {
  const where = rowWords({ rows, count });
  const covered = [...cases].map(([text, times]) => (times === 1 ? text : `${text} (${times} times)`));
  if (casesBeyond > 0) covered.push(`and ${numberWords(casesBeyond)} more`);
  return {
    ...question,
    answer: question.answer || proposed,
    text: where === '' ? question.text : `${question.text} (${where.toLowerCase()})`,
    hint: covered.length === 0 ? question.hint : `${question.hint} They are: ${covered.join('; ')}`,
    isFree: question.choices.length === 0,
    isLong: question.choices.length > 6,
  };
}

/** The columns that nothing is taken of, and how to have them read. */
export function unusedWords(heads: readonly string[]): string {
  if (heads.length === 0) return '';
  const quoted = heads.map((head) => `“${head}”`);
  const named = [quoted.slice(0, -1).join(', '), quoted.at(-1)].filter(Boolean).join(' and ');
  return heads.length === 1
    ? `Nothing is taken of the column ${named}. If it matters, say under “Change how it is read” what it holds.`
    : `Nothing is taken of the columns ${named}. If they matter, say under “Change how it is read” what they hold.`;
}

/** What is left out of a file in words. */
export function leftWords(present: number, refused: number): string {
  const parts = [
    present > 0 ? `${plural(present, 'row is', 'rows are')} here already and left out` : '',
    refused > 0 ? `${plural(refused, 'row is', 'rows are')} refused and handed back as a file` : '',
  ].filter(Boolean);
  return parts.length === 0 ? '' : `${parts.join('; ')}.`;
}

/** Each column with samples of what it holds, and what it may be said to hold. */
export function columnViews<Meaning extends string>(
  { layout, rows }: { layout: NamedLayout<Meaning>; rows: readonly (readonly string[])[] },
  choices: { value: string; text: string }[],
) {
  const samples = rows.slice(layout.headRow, layout.headRow + 50);
  return layout.columns.map(({ head, meaning }, index) => ({
    index,
    head: head || `column ${index + 1}`,
    meaning,
    choices,
    samples: samples
      .map((row) => row[index] ?? '')
      .filter(Boolean)
      .slice(0, samplesShown)
      .join(' · ')
      .slice(0, 80),
  }));
}

const perPage = 100;

/** The tabs of a preview and the lines of the one that is shown. */
export function shownLines<State extends string, Line extends { state: string; row: number }>({
  href,
  lines,
  states,
  show,
  page,
}: {
  href: string;
  lines: readonly Line[];
  states: Readonly<Record<State, string>>;
  show: State;
  page: number;
}) {
  const counted = Map.groupBy(lines, (line) => line.state);
  const rowsOf = (state: State) => new Set((counted.get(state) ?? []).map((line) => line.row)).size;
  const own = counted.get(show) ?? [];
  const from = page * perPage;
  const until = Math.min(from + perPage, own.length);
  return {
    rowsOf,
    own: own.slice(from, until),
    tabs: (Object.keys(states) as State[])
      .filter((state, i) => rowsOf(state) > 0 || i === 0)
      .map((state) => ({
        href: `${href}?show=${state}#rows`,
        text: `${states[state]}: ${numberWords(rowsOf(state))}`,
        current: state === show,
      })),
    newer: page > 0 ? `${href}?show=${show}&page=${page - 1}#rows` : '',
    older: own.length > until ? `${href}?show=${show}&page=${page + 1}#rows` : '',
    pageWords: `${numberWords(Math.min(from + 1, own.length))} to ${numberWords(until)} of ${numberWords(own.length)}`,
  };
}

/** How many rows are offered as the one with the heads, and how much of each is shown. */
const [rowsOffered, lettersShown] = [15, 60];

interface FileShape {
  format: { encoding: string; separator: string; layout: { headRow: number } };
  rows: readonly (readonly string[])[];
}

/**
 * How a file was read, and in what other ways it may be: encoding, separator, the row with the heads.
 * @param what its rows hold: "readings"
 */
export function formatChoices({ format, rows }: FileShape, what: string) {
  const { encoding, separator, layout } = format;
  const offered = rows.slice(0, rowsOffered);
  return {
    encoding,
    encodings: encodings.map((value) => ({ value, text: encodingNames[value] })),
    separator,
    separators: Object.keys(separators).map((value) => ({ value, text: value })),
    head: String(layout.headRow),
    heads: [
      { value: '0', text: `No row: the file starts with ${what}` },
      ...offered.map((row, i) => ({
        value: String(i + 1),
        text: `Row ${i + 1}: ${row.join(' · ').slice(0, lettersShown)}`,
      })),
    ],
  };
}
