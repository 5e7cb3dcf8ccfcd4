import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords, whenWords } from '../../platform/words/times.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { biasWords, removeBias } from '../kits/bias.rules.ts';
import type { KitBias } from '../kits/bias.ts';
import { boundMark, type Quantity, show, showDifference, unitName } from '../quantities/quantities.ts';
import type { SeriesReading } from './series.ts';
import type { Bucket, SourceReadings } from './sources.ts';

/** What is entered later than this after it was measured shows when it was entered; own choice. */
const lateMs = hourMs;

/** One row of the table beneath the chart: the same values in words. */
export function tableRow(quantity: Quantity, reading: SeriesReading, kit: KitBias | undefined) {
  const right = removeBias(reading, kit);
  const { value, uncertainty } = right ?? reading;
  const entered = `${reading.enteredText} ${unitName(quantity.code, reading.enteredUnit)}${factorWords(reading.factor)}`;
  return {
    ...reading,
    text: `${boundMark(reading)}${show(quantity, value).text}`,
    asRead: right === null || kit === undefined ? null : `read ${show(quantity, reading.value).text}`,
    plusMinus: reading.below
      ? 'below detection'
      : reading.above
        ? 'beyond the scale'
        : `± ${showDifference(quantity, uncertainty, value).text}`,
    entered: entered.trim(),
    lateAt: reading.enteredAt.getTime() - reading.at.getTime() > lateMs ? reading.enteredAt : null,
    phase: reading.hoursSinceDose === null ? null : sinceDoseWords(reading.hoursSinceDose),
    how: [reading.laboratory || reading.method, reading.kit, reading.batch && `sample ${reading.batch}`]
      .filter((part) => part)
      .join(', '),
    trustWords: reading.trust === 'plain' ? '' : reading.trust,
    kitSays: right === null || kit === undefined ? '' : `Corrected: ${kit.label} ${biasWords(kit)}.`,
    voided: reading.voidedAt !== null,
    says: right !== null || reading.voidedAt !== null || reading.trust !== 'plain' || reading.note !== '',
  };
}

/** " ÷ 10", " × 5": what the number shown was multiplied by. */
export function factorWords(factor: number): string {
  if (factor === 1) return '';
  return factor < 1 ? ` ÷ ${numberWords(1 / factor)}` : ` × ${numberWords(factor)}`;
}

/** "3 h after a dose". */
export function sinceDoseWords(hours: number): string {
  if (hours < 1) return `${Math.round(hours * 60)} min after a dose`;
  return hours < 48
    ? `${Math.round(hours)} h after a dose`
    : `${plural(Math.round(hours / 24), 'day', 'days')} after a dose`;
}

/** One row of the table for several readings together. */
export function bucketRow(
  quantity: Quantity,
  { at, value, low, high, count, below, unconfirmed }: Bucket,
  grain: SourceReadings['grain'],
  timeZone: string,
  now: Date,
) {
  const date = dateWords(at, timeZone);
  const when = grain === 'week' ? `week of ${date}` : grain === 'day' ? date : whenWords(at, timeZone, now);
  return {
    when,
    text: `${below ? '< ' : ''}${show(quantity, value).text}`,
    range: `${show(quantity, low).text} to ${show(quantity, high).text}`,
    count,
    unconfirmed,
  };
}
