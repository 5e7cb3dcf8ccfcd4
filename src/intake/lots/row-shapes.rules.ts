import type { QuestionList } from '../file/questions.rules.ts';
import { leaveOutChoice } from '../file/questions.rules.ts';
import { isTotals } from '../file/sheet-shape.rules.ts';
import { type LotColumnMeaning, type LotLayout, lotLayout } from './columns.rules.ts';

/** The rows of a sheet as its lots are read from them. */
export interface ShapedRows {
  /** Row by row as the file has them; empty where a row went into another one. */
  rows: (readonly string[])[];
  /** Why a row is no lot, by its index. */
  refused: Map<number, string>;
}

type Place = (meaning: LotColumnMeaning) => number;

/** Heads among the rows: at least so many cells name a column (own choice). */
const headsNamed = 3;

/** The columns as a row in the middle names them; null where it names none. */
function headsIn(cells: readonly string[]): LotLayout['columns'] | null {
  if (cells.some((cell) => /\d/.test(cell)) || cells.filter((cell) => cell !== '').length < headsNamed)
    return null;
  const { columns } = lotLayout([[...cells]], { head: '1' });
  return columns.filter(({ meaning }) => meaning !== 'ignore').length >= headsNamed ? columns : null;
}

/**
 * Brings the rows of a sheet under its first heads: a second sheet pasted beneath is read by its own heads, and a row
 * without code, name and kind is asked about, since it may be more of the lot above.
 */
export function shapeRows(
  rows: readonly (readonly string[])[],
  { headRow, columns }: LotLayout,
  questions: QuestionList,
): ShapedRows {
  const shaped: ShapedRows = { rows: [...rows], refused: new Map() };
  if (headRow === 0) return shaped;
  const place: Place = (meaning) => columns.findIndex((column) => column.meaning === meaning);
  underFirstHeads(shaped, headRow, columns, place);
  joinRows(shaped, headRow, place, questions);
  return shaped;
}

function underFirstHeads(
  { rows, refused }: ShapedRows,
  headRow: number,
  columns: LotLayout['columns'],
  place: Place,
): void {
  let second: { row: number; columns: LotLayout['columns']; lacking: string } | null = null;
  for (let i = headRow; i < rows.length; i += 1) {
    const cells = rows[i] ?? [];
    const heads = headsIn(cells);
    if (heads !== null) {
      refused.set(i, 'The heads of columns again, not a lot.');
      const lacking = heads.find(({ meaning }) => meaning !== 'ignore' && place(meaning) < 0)?.head ?? '';
      second = { row: i + 1, columns: heads, lacking };
    } else if (second !== null && cells.some((cell) => cell !== '')) {
      if (second.lacking !== '')
        refused.set(
          i,
          `From row ${second.row} on the columns are others, and “${second.lacking}” is none of the first ones. Bring that part as a file of its own.`,
        );
      else
        rows[i] = columns.map(
          ({ meaning }) => cells[second?.columns.findIndex((one) => one.meaning === meaning) ?? -1] ?? '',
        );
    }
  }
}

const whole = (text: string) => (/^\d+$/.test(text) ? Number(text) : Number.NaN);

function joinRows(
  { rows, refused }: ShapedRows,
  headRow: number,
  place: Place,
  questions: QuestionList,
): void {
  const text = (i: number, meaning: LotColumnMeaning) => rows[i]?.[place(meaning)]?.trim() ?? '';
  const isNamed = (i: number) =>
    (['ownCode', 'givenCode', 'name', 'kind'] as const).some((meaning) => text(i, meaning) !== '');
  const isPart = (i: number) =>
    (['pieces', 'slots', 'rack'] as const).some((meaning) => text(i, meaning) !== '');
  let above = -1;
  for (let i = headRow; i < rows.length; i += 1) {
    const cells = rows[i] ?? [];
    if (refused.has(i) || isTotals(cells) || cells.every((cell) => cell === '')) above = -1;
    else if (isNamed(i)) above = i;
    else if (above >= 0 && isPart(i)) {
      const covers = `row ${i + 1}: “${cells.filter((cell) => cell !== '').join(' · ')}”`;
      const answer = questions.ask('goes-on', i + 1, askWhatItIs, covers);
      const set = (at: number, meaning: LotColumnMeaning, value: string) => {
        if (place(meaning) >= 0) rows[at] = Object.assign([...(rows[at] ?? [])], { [place(meaning)]: value });
      };
      if (answer === 'own')
        for (const meaning of ['name', 'kind', 'received', 'rack'] as const)
          if (text(i, meaning) === '') set(i, meaning, text(above, meaning));
      if (answer !== 'more') continue;
      const sum = whole(text(above, 'pieces')) + whole(text(i, 'pieces') || '0');
      const isElsewhere = text(i, 'rack') !== '' && text(i, 'rack') !== text(above, 'rack');
      if (isElsewhere || Number.isNaN(sum)) {
        const why = isElsewhere ? 'a lot stands on one rack' : 'its pieces cannot be added up';
        refused.set(
          i,
          `It cannot be more of the lot in row ${above + 1}: ${why}. Give it a code or name of its own.`,
        );
        continue;
      }
      set(above, 'pieces', String(sum));
      for (const meaning of ['slots', 'note'] as const)
        set(above, meaning, [text(above, meaning), text(i, meaning)].filter((one) => one !== '').join(', '));
      rows[i] = [];
    }
  }
}

const askWhatItIs = () => ({
  text: 'Some rows have pieces or a place, but no code, name or kind. What are they?',
  hint: 'They stand beneath a lot.',
  choices: [
    { value: 'more', text: 'More of the lot above: pieces and slots are added to it' },
    { value: 'own', text: 'Lots of their own, of the same name and kind as the one above' },
    leaveOutChoice,
  ],
});
