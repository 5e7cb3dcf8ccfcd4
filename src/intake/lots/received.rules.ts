import { localDay } from '../../platform/days.ts';
import { dateWords, monthWords } from '../../platform/words/times.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import {
  awaitingAnswer,
  isNotTaken,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  refusedBecause,
} from '../file/questions.rules.ts';
import { type Days, dayOf, type LooseDay, looseDay } from './loose-cells.rules.ts';
import type { Cells, LotReader } from './lot-reader.rules.ts';

/** How far ahead of the service's clock a file's clock may be; own choice. */
const clockToleranceMs = 5 * minuteMs;

/** When a lot came. A day without a time is kept as its noon. */
export function receivedOf(reader: LotReader, cells: Cells, row: number): Date | NotTaken {
  let text = cells.text('received');
  if (text === '') {
    text = reader.questions.ask('received', row, () => ({
      text: 'When did the lots come that have no day of their own?',
      hint: `Write a day, like 2026-11-24, or “${leaveOutValue}” to leave these rows out.`,
      choices: [],
    }));
    if (text === '') return awaitingAnswer;
    if (text === leaveOutValue) return leftOut;
  }
  const { now, timeZone } = reader.stock;
  const loose = looseDay(text, localDay(now, timeZone));
  if (loose !== null) {
    const day = dayKept(reader, row, text, loose);
    if (isNotTaken(day)) return day;
    text = day.iso;
  }
  const read = reader.readMoment(text);
  if ('fault' in read) return refusedBecause(read.fault);
  if (read.at.getTime() <= now.getTime()) return read.at;
  // A day without a time is kept as its noon, which may be still to come today.
  if (read.at.getTime() - now.getTime() < 12 * 60 * minuteMs && !/\d:\d/.test(text)) return now;
  return read.at.getTime() <= now.getTime() + clockToleranceMs
    ? now
    : refusedBecause('It is in the future. Check the day, the month and the year.');
}

/** The day that is kept of a month, week, quarter or year. */
function dayKept(reader: LotReader, row: number, text: string, loose: LooseDay): { iso: string } | NotTaken {
  let days: Days;
  if (loose.is === 'stretch') days = loose.days;
  else {
    const covers = `“${text}”: ${monthWords(loose.ofYear.from.slice(0, 7))} or ${dateWords(loose.ofDay, 'UTC')}`;
    const answer = reader.questions.ask('received-number', row, askOfNumber, covers);
    if (answer === '') return awaitingAnswer;
    if (answer === leaveOutValue) return leftOut;
    if (answer === 'day') return { iso: loose.ofDay };
    days = loose.ofYear;
  }
  const { from, to } = days;
  const answer = reader.questions.ask(
    'received-part',
    row,
    askOfPart,
    `“${text}”: ${dateWords(from, 'UTC')} to ${dateWords(to, 'UTC')}`,
  );
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  const which = answer === 'first' || answer === 'last' ? answer : 'middle';
  return { iso: dayOf(days, which, localDay(reader.stock.now, reader.stock.timeZone)) };
}

const askOfNumber = () => ({
  text: 'Some days are a month and one number. What is the number?',
  hint: 'Beside each stands what it would be.',
  choices: [
    { value: 'year', text: 'The year' },
    { value: 'day', text: 'The day, of the last year in which it has been' },
    leaveOutChoice,
  ],
});

const askOfPart = () => ({
  text: 'Some lots came in a month, week or year without a day. Which day of it is kept?',
  hint: 'The age of a lot counts from it. A week without a year is the last one that has begun.',
  choices: [
    { value: 'first', text: 'The first' },
    { value: 'middle', text: 'The middle' },
    { value: 'last', text: 'The last, or today' },
    leaveOutChoice,
  ],
});
