import { type DateOrder, type FileMoment, momentReader } from './dates.rules.ts';
import type { Known } from './farm-context.ts';
import { type Meaning, meanings } from './headers.rules.ts';
import { type Layout, placesOf } from './layout.rules.ts';
import type { Answers, Inquiry } from './questions.rules.ts';
import { type UnitReader, unitReader } from './units.rules.ts';

/** All that is needed to read one file's rows. */
export interface FileReader {
  known: Known;
  layout: Layout;
  places: ReturnType<typeof placesOf>;
  answers: Answers;
  inquiry: Inquiry;
  moment(text: string): FileMoment;
  units: UnitReader;
  /** True when a column has this meaning. */
  has(meaning: Meaning): boolean;
  /** The row's cell under this meaning; '' when there is none. */
  cell(cells: readonly string[], meaning: Meaning): string;
  /** The same, or what was said for the whole file. */
  own(cells: readonly string[], meaning: Meaning): string;
}

export function fileReader(
  known: Known,
  layout: Layout,
  order: DateOrder,
  answers: Answers,
  inquiry: Inquiry,
): FileReader {
  const places = placesOf(layout);
  const index = new Map((Object.keys(meanings) as Meaning[]).map((meaning) => [meaning, places.at(meaning)]));
  const has = (meaning: Meaning) => (index.get(meaning) ?? -1) >= 0;
  const cell = (cells: readonly string[], meaning: Meaning) => cells[index.get(meaning) ?? -1] ?? '';
  return {
    known,
    layout,
    places,
    answers,
    inquiry,
    moment: momentReader(known.timeZone, order, answers.noon || '12:00'),
    units: unitReader(inquiry),
    has,
    cell,
    own: (cells, meaning) => cell(cells, meaning) || (answers[meaning] ?? '').trim(),
  };
}
