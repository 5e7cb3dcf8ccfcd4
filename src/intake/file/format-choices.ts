import { separators } from './table.ts';
import { encodingNames, encodings } from './text.rules.ts';

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
