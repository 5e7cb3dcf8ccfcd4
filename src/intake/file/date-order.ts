import { localDay } from '../../platform/days.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import { type DateOrder, dateOrderDetector, parseDateAndTime } from './dates.rules.ts';
import type { Answers, QuestionList } from './questions.rules.ts';
import { longestWord } from './sheet-shape.rules.ts';

/** What a file's reading gathers on the way: answers, questions, and what there is to say of the whole file. */
interface Asking {
  answers: Answers;
  questions: QuestionList;
  notices: string[];
}

/** A day that stands above the heads of a table, and what is written beside it. */
interface DayAbove {
  text: string;
  label: string;
}

const dayIn =
  /\d{4}-\d{1,2}-\d{1,2}(?:[T ]\d{1,2}:\d{2})?|\d{1,2}[./-]\d{1,2}[./-](?:\d{4}|\d{2})(?:,? \d{1,2}[:.]\d{2})?|\d{1,2}\.? \p{L}{3,10}\.? \d{4}|\p{L}{3,10}\.? \d{1,2}, \d{4}/u;
/** Words by which laboratories name the day on which the water was taken, in six languages (common practice). */
const taken = /sampl|collect|taken|drawn|probe|entnahme|prélèv|muestr|toma|campion|prelievo|monster/i;

/** The days above the heads, those of the sampling alone where one is named so. */
function daysAbove(rows: readonly (readonly string[])[]): DayAbove[] {
  const found = rows.flatMap((row) =>
    row.flatMap((cell, i): DayAbove[] => {
      const text = dayIn.exec(cell.slice(0, longestWord))?.[0] ?? '';
      if (parseDateAndTime(text) === null) return [];
      const beside = cell
        .replace(text, '')
        .replace(/[\s:=]+$/, '')
        .trim();
      return [{ text, label: beside || (row[i - 1] ?? '').replace(/[\s:=]+$/, '').trim() }];
    }),
  );
  const sampled = found.filter(({ label }) => taken.test(label));
  const distinct = new Map((sampled.length > 0 ? sampled : found).map((day) => [day.text, day]));
  return [...distinct.values()];
}

/** The question of which day all rows are. */
export const dayQuestion = 'day-above';

/**
 * The day of all rows where no column has one: the one that stands above the heads, else asked which of those is meant.
 * '' where there is none, or it waits for an answer.
 */
export function dayOfFile(
  rows: readonly (readonly string[])[],
  headRow: number,
  { answers, questions, notices }: Asking,
): string {
  if ((answers.when ?? '') !== '') return answers.when ?? '';
  const days = daysAbove(rows.slice(0, Math.max(0, headRow - 1)));
  const [only, second] = days;
  if (only === undefined) return '';
  const words = ({ text, label }: DayAbove) => (label === '' ? `“${text}”` : `“${text}” (${label})`);
  if (second === undefined) {
    notices.push(`All rows are of the day above the heads: ${words(only)}.`);
    return only.text;
  }
  return questions.ask(dayQuestion, 0, () => ({
    text: 'Of which day are all rows?',
    hint: 'No column says it; these dates are above the heads. The day on which the water was taken counts.',
    choices: days.map((day) => ({ value: day.text, text: words(day) })),
  }));
}

/** Day or month first: by the evidence of the dates (those of rows from `firstRow` on), else asked. */
export async function dateOrderOf(
  texts: readonly string[],
  firstRow: number,
  { now, timeZone }: { now: Date; timeZone: string },
  { answers, questions, notices }: Asking,
): Promise<DateOrder> {
  const watch = dateOrderDetector(localDay(now, timeZone));
  const breathe = yieldLoop();
  for (const text of texts) {
    watch.add(text);
    await breathe();
  }
  const evidence = watch.evidence();
  const given = (['day-first', 'month-first'] as const).find((one) => one === answers.order);
  if (evidence.order === null && evidence.settled) return 'day-first';
  if (evidence.order !== null && given === undefined) {
    const words = evidence.order === 'day-first' ? 'day first' : 'month first';
    notices.push(`Dates are read ${words}: ${evidence.why}.`);
    return evidence.order;
  }
  const first = texts.find((text) => text !== '') ?? '';
  questions.ask('order', firstRow, () => ({
    text: `Is “${first}” written day first or month first?`,
    hint: `${capitalized(evidence.why)}. Dates that do not fit the answer are refused.`,
    choices: [
      { value: 'day-first', text: 'Day first' },
      { value: 'month-first', text: 'Month first' },
    ],
  }));
  return given ?? 'day-first';
}
