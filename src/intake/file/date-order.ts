import { localDay } from '../../platform/days.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import { type DateOrder, dateOrderDetector } from './dates.rules.ts';
import type { Answers, QuestionList } from './questions.rules.ts';

/** What a file's reading gathers on the way: answers, questions, and what there is to say of the whole file. */
interface Asking {
  answers: Answers;
  questions: QuestionList;
  notices: string[];
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
    hint: `${evidence.why.charAt(0).toUpperCase()}${evidence.why.slice(1)}. Dates that do not fit the answer are refused.`,
    choices: [
      { value: 'day-first', text: 'Day first' },
      { value: 'month-first', text: 'Month first' },
    ],
  }));
  return given ?? 'day-first';
}
