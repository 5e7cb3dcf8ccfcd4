import { eventKinds } from '../../farm/events/kinds.rules.ts';
import type { OffSpan } from '../../farm/switched-off/lists.ts';
import { things } from '../../farm/switched-off/things.rules.ts';
import { localDay } from '../../platform/days.ts';
import { plural } from '../../platform/words/numbers.ts';
import { whenWords } from '../../platform/words/times.ts';
import { biasWords, isBiased, removeBias } from '../kits/bias.rules.ts';
import { boundMark, type Quantity, say, sayBand, sayReading, show } from '../quantities/quantities.ts';
import { type SourceReadings, sourceName } from '../readings/sources.ts';
import { forecastWords } from './forecast.rules.ts';
import type { SystemView } from './system-page.ts';

/** The system and the days that a chart shows. */
export interface ChartPeriod {
  systemName: string;
  from: Date;
  to: Date;
  days: number;
  timeZone: string;
}

/** What one point of the chart stands for: a reading, or the median of several with their lowest and highest. */
interface PointValue {
  at: Date;
  value: number;
  low: number;
  high: number;
  below: boolean;
  above: boolean;
}

/** The chart in sentences: its label for screen readers, and its caption. */
export function chartSentence(view: SystemView, period: ChartPeriod): string {
  const { quantity, parts, targets, forecast } = view;
  const subject = `${quantity.name} in ${period.systemName} over ${periodWords(period.days)}`;
  if (parts.every((part) => part.count === 0)) return `${subject}: no readings.`;
  const sources = parts.map((part) => sourceWords(view, part, period));
  return [
    `${subject}: ${sources.join('; ')}.`,
    bandWords(view),
    biasedKitWords(view),
    logWords(view),
    happenedWords(view, period),
    forecastWords(quantity, forecast, targets.get(quantity.code), period.timeZone),
  ]
    .filter((part) => part !== '')
    .join(' ');
}

/** "90 days", "1 year", "3 years". */
export const periodWords = (days: number): string =>
  days % 365 === 0 ? plural(days / 365, 'year', 'years') : `${days} days`;

/** What a point stands for where it is several readings; '' where it is one. */
export function grainWords(grain: SourceReadings['grain']): string {
  return grain === 'reading' ? '' : `the median of each ${grain} with its lowest and highest`;
}

/** Where not every value that is told of is there to be read. */
const goneWords =
  'Of the oldest days one value each is kept and the figures of their hours and days, as the site is set';

function sourceWords(view: SystemView, part: SourceReadings, { timeZone, to }: ChartPeriod): string {
  const { quantity } = view;
  const values = valuesIn(view, part);
  const last = values.at(-1);
  const who = part.kind === 'hand' ? '' : ` by ${part.kind === 'probe' ? 'a probe' : sourceName(part)}`;
  const count = `${plural(part.count, 'reading', 'readings')}${who}`;
  if (last === undefined) return `${count}, none of which counts`;
  const range = values.length < 2 ? '' : rangeWords(quantity, values);
  const thinned = part.grain === 'reading' ? '' : `, shown as ${grainWords(part.grain)}`;
  // What stands for a day has no hour of its own.
  const lastAt = part.grain === 'day' ? localDay(last.at, timeZone) : last.at;
  return `${count}${range}, the last ${sayReading(quantity, last)} on ${whenWords(lastAt, timeZone, to)}${thinned}${part.gone > 0 ? `. ${goneWords}` : ''}`;
}

/** The values of a source that count, without the bias of kits known to read wrong. */
function valuesIn({ biases }: SystemView, part: SourceReadings): PointValue[] {
  if (part.grain !== 'reading') return part.buckets;
  return part.readings
    .filter(({ voidedAt, trust }) => voidedAt === null && trust !== 'refuted')
    .map((reading) => {
      const value = removeBias(reading, biases.get(reading.kitId ?? ''))?.value ?? reading.value;
      return { at: reading.at, value, low: value, high: value, below: reading.below, above: reading.above };
    });
}

/** "from 8.1 to 8.4 dKH"; what is alike is said once: ", all < 0.020 mg/L as PO₄". */
function rangeWords(quantity: Quantity, values: readonly PointValue[]): string {
  const lowest = minOf(values, ({ low }) => low);
  const highest = maxOf(values, ({ high }) => high);
  const [least, most] = [say(quantity, lowest.low), say(quantity, highest.high)];
  if (least === most && boundMark(lowest) === boundMark(highest)) return `, all ${boundMark(lowest)}${least}`;
  const [low, high] = [boundMark({ ...lowest, above: false }), boundMark({ ...highest, below: false })];
  return ` from ${low}${show(quantity, lowest.low).text} to ${high}${most}`;
}

const minOf = <T>(list: readonly T[], of: (one: T) => number): T =>
  list.reduce((least, one) => (of(one) < of(least) ? one : least));
const maxOf = <T>(list: readonly T[], of: (one: T) => number): T =>
  list.reduce((most, one) => (of(one) > of(most) ? one : most));

function bandWords(view: SystemView): string {
  const { quantity, targets, parts } = view;
  const target = targets.get(quantity.code);
  const band = sayBand(quantity, target?.bandLow ?? null, target?.bandHigh ?? null);
  if (band === null) return 'No band is set.';
  const values = parts.flatMap((part) => valuesIn(view, part));
  const [low, high] = [target?.bandLow ?? -Infinity, target?.bandHigh ?? Infinity];
  const outside = values.filter(
    ({ value, below, above }) =>
      (!below && value > high) || (!above && value < low) || (above && value >= high),
  ).length;
  const untold = values.some(
    ({ value, below, above }) =>
      (below && value >= low && Number.isFinite(low)) || (above && value < high && Number.isFinite(high)),
  );
  const [one, many] = parts.every((part) => part.grain === 'reading')
    ? (['reading lies', 'readings lie'] as const)
    : (['point lies', 'points lie'] as const);
  const which = outside === 0 ? (untold ? 'none surely lies' : 'none lies') : plural(outside, one, many);
  return `${target?.starting ? 'The starting band, not chosen by you, is' : 'The target band is'} ${band}; ${which} outside.`;
}

function biasedKitWords({ biases }: SystemView): string {
  return [...biases.values()]
    .filter((kit) => isBiased(kit))
    .map(
      (kit) =>
        `${kit.label} ${biasWords(kit)}; its readings are shown corrected, with what was read beside them.`,
    )
    .join(' ');
}

function logWords({ quantity, changes, doses }: SystemView): string {
  const own = doses.filter((dose) => dose.quantityCode === quantity.code).length;
  const unknown = doses.filter(({ effect }) => effect === null).length;
  const beside =
    unknown === 0 ? '' : `, and ${plural(unknown, 'dose', 'doses')} of what nobody has said the effect of`;
  return `${plural(changes.length, 'water change', 'water changes')} and ${plural(own, 'dose', 'doses')} of it were logged${beside}.`;
}

/** So many are named; the others are counted. */
const mostNamed = 3;

const named = (words: readonly string[]) =>
  words.length <= mostNamed
    ? words.join('; ')
    : `${words.slice(-mostNamed).join('; ')}; and ${words.length - mostNamed} before`;

/** What changed the habits of the water, and what was off, within the days shown. */
function happenedWords({ events, off }: SystemView, { from, to, timeZone }: ChartPeriod): string {
  const marks = events
    .filter(({ at, voidedAt }) => voidedAt === null && at >= from && at <= to)
    .toSorted((a, b) => a.at.getTime() - b.at.getTime())
    .map(({ at, kind }) => `${eventKinds[kind]} ${whenWords(at, timeZone, to)}`);
  const bars = off.map((one) => offWords(one, timeZone, to));
  return [
    marks.length === 0 ? '' : `Marked: ${named(marks)}.`,
    bars.length === 0 ? '' : `Bars: ${named(bars)}.`,
  ]
    .filter((part) => part !== '')
    .join(' ');
}

/** "Heater left off 20 Nov 08:00 to 20 Nov 09:10", or "... and not seen running yet". */
export function offWords({ what, thing, from, to }: OffSpan, timeZone: string, now: Date): string {
  const since = `${what} ${things[thing].state} ${whenWords(from, timeZone, now)}`;
  return to === null ? `${since}, not seen running yet` : `${since} to ${whenWords(to, timeZone, now)}`;
}
