import type { ClockDoubt, MomentReader } from './dates.rules.ts';
import {
  awaitingAnswer,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  type QuestionList,
  refusedBecause,
} from './questions.rules.ts';

/** The time of one row of a file as it is written. */
export interface WrittenTime {
  row: number;
  text: string;
  /** What its row goes on with: rows of one series follow each other in time. */
  series: string;
}

/** Which of the two times a row of a repeated hour means. */
type Pass = 'first' | 'second';

/** The moment of a row, or why the row is not taken. */
export type RowMoment = { at: Date } | NotTaken;

/**
 * Settles the times of a file, those of the two clock changes by asking: once a night which hour is meant. Where the rows follow
 * each other in time and step back once, their order is offered and filled in; it counts once somebody sends it.
 *
 * @param timesOf gives all rows of the file, in its order; asked only where a time is in doubt
 */
export function clockChanges(
  timesOf: () => readonly WrittenTime[],
  readMoment: MomentReader,
  questions: QuestionList,
): (row: number, text: string) => RowMoment {
  const nights = new Map<string, ReadonlyMap<number, Pass>>();
  const passesOf = (doubt: ClockDoubt) => {
    const known = nights.get(doubt.day) ?? passesByOrder(timesOf(), readMoment, doubt.day);
    nights.set(doubt.day, known);
    return known;
  };
  return (row, text) => {
    const read = readMoment(text);
    if ('at' in read) return read;
    const { doubt } = read;
    if (doubt === undefined) return refusedBecause(read.fault);
    return doubt.kind === 'twice'
      ? settleTwice(doubt, row, text, passesOf(doubt), questions)
      : settleNever(doubt, row, text, questions);
  };
}

function settleTwice(
  { day, earlier, later }: ClockDoubt,
  row: number,
  text: string,
  passes: ReadonlyMap<number, Pass>,
  questions: QuestionList,
): RowMoment {
  const byRows = passes.size > 0;
  const answer = questions.ask(
    `clocks-${day}`,
    row,
    () => ({
      text: `The clocks went back on ${day}: which hour do these times mean?`,
      hint: byRows
        ? 'They came twice that night. The rows step back once, as if that were the change: look whether it is so.'
        : 'They came twice that night, and the order of the rows does not tell which is meant.',
      choices: [
        ...(byRows ? [{ value: 'rows', text: 'First time, then second, as the rows follow' }] : []),
        { value: 'first', text: `All the first time, ${earlier.offset}` },
        { value: 'second', text: `All the second time, ${later.offset}` },
        leaveOutChoice,
      ],
      ...(byRows ? { proposed: 'rows' } : {}),
    }),
    text,
  );
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  const pass = answer === 'rows' ? passes.get(row) : answer;
  if (pass === undefined)
    return refusedBecause(
      `“${text}” came twice that night, and its rows do not tell which is meant. Write it as ${text} ${earlier.offset} or ${later.offset}.`,
    );
  return pass === 'first' ? { at: earlier.at } : { at: later.at };
}

function settleNever(
  { day, later }: ClockDoubt,
  row: number,
  text: string,
  questions: QuestionList,
): RowMoment {
  const answer = questions.ask(
    `clocks-${day}`,
    row,
    () => ({
      text: `The clocks went forward on ${day} over these times: what do they mean?`,
      hint: 'They never came. A clock that nobody put forward shows them, and its later times are an hour off as well: write their offset into the file.',
      choices: [
        { value: 'unchanged', text: `A clock not put forward wrote them, ${later.offset}` },
        leaveOutChoice,
      ],
    }),
    text,
  );
  if (answer === '') return awaitingAnswer;
  return answer === leaveOutValue ? leftOut : { at: later.at };
}

/**
 * Of the rows of a repeated hour, which time each means by the order of its series: up in time, or down, with one step back.
 * Rows of a series that does not step back once within that hour are left out.
 */
function passesByOrder(
  times: readonly WrittenTime[],
  readMoment: MomentReader,
  day: string,
): ReadonlyMap<number, Pass> {
  const passes = new Map<number, Pass>();
  for (const rows of Map.groupBy(times, ({ series }) => series).values())
    for (const [row, pass] of passesOfSeries(rows, readMoment, day)) passes.set(row, pass);
  return passes;
}

function passesOfSeries(
  rows: readonly WrittenTime[],
  readMoment: MomentReader,
  day: string,
): (readonly [row: number, pass: Pass])[] {
  const read = rows.map(({ row, text }) => ({
    row,
    moment: readMoment(text),
    written: readMoment.written(text),
  }));
  const known = read.flatMap(({ moment }) => ('at' in moment ? [moment.at.getTime()] : []));
  const [first, last] = [known.at(0), known.at(-1)];
  if (first === undefined || last === undefined || first === last) return [];
  const night = read.filter(({ written }) => written?.day === day && written.offset === null);
  const upwards = first < last ? night : night.reverse();
  const twice = ({ moment }: (typeof night)[number]) => 'fault' in moment && moment.doubt?.kind === 'twice';
  const steps = upwards.flatMap(({ written }, i) => {
    const before = upwards[i - 1]?.written;
    return i > 0 && (written?.seconds ?? 0) <= (before?.seconds ?? 0) ? [i] : [];
  });
  const [step] = steps;
  const [from, to] = [upwards[(step ?? 0) - 1], upwards[step ?? 0]];
  if (step === undefined || steps.length > 1 || from === undefined || to === undefined) return [];
  if (!twice(from) || !twice(to)) return [];
  return upwards.flatMap((one, i) => (twice(one) ? [[one.row, i < step ? 'first' : 'second'] as const] : []));
}
