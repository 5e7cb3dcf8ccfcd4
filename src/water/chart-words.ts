import { plural, whenWords } from '../platform/words.ts';
import { biasWords, readsWrong, withoutBias } from './kits/bias.rules.ts';
import { outlookWords } from './outlook.rules.ts';
import { type Quantity, say, sayBand, show } from './quantities/quantities.ts';
import { type Bucket, nameOf, type SourcePart } from './readings/sources.ts';
import type { SystemView } from './system.ts';

/** Which system, and over what time. */
export interface Around {
  systemName: string;
  from: Date;
  to: Date;
  days: number;
  timeZone: string;
}

/** One value of a source, with what it may be between. */
interface Told {
  at: Date;
  value: number;
  low: number;
  high: number;
  below: boolean;
}

/** What the picture shows, for those who do not see it, and beneath it for everybody. */
export function chartSentence(view: SystemView, around: Around): string {
  const { quantity, parts, targets, outlook } = view;
  const subject = `${quantity.name} in ${around.systemName} over ${spanWords(around.days)}`;
  if (parts.every((part) => part.count === 0)) return `${subject}: no readings.`;
  const sources = parts.map((part) => sourceWords(view, part, around));
  return [
    `${subject}: ${sources.join('; ')}.`,
    bandWords(view),
    wrongWords(view),
    doneWords(view),
    outlookWords(quantity, outlook, targets.get(quantity.code), around.timeZone),
  ]
    .filter((part) => part !== '')
    .join(' ');
}

/** "90 days", "1 year", "3 years". */
export const spanWords = (days: number): string =>
  days % 365 === 0 ? plural(days / 365, 'year', 'years') : `${days} days`;

/** What the points are that stand for several readings. */
export function grainWords(grain: SourcePart['grain']): string {
  return grain === 'reading' ? '' : `the median of each ${grain} with its lowest and highest`;
}

function sourceWords({ quantity, biases }: SystemView, part: SourcePart, { timeZone, to }: Around): string {
  const told = toldOf(
    part,
    (reading) => withoutBias(reading, biases.get(reading.kitId ?? ''))?.value ?? reading.value,
  );
  const last = told.at(-1);
  const who = part.kind === 'hand' ? '' : ` by ${part.kind === 'probe' ? 'a probe' : nameOf(part)}`;
  const count = `${plural(part.count, 'reading', 'readings')}${who}`;
  if (last === undefined) return `${count}, none of which counts`;
  const range = told.length < 2 ? '' : ` from ${rangeWords(quantity, told)}`;
  const thinned = part.grain === 'reading' ? '' : `, shown as ${grainWords(part.grain)}`;
  return `${count}${range}, the last ${say(quantity, last.value, last.below)} on ${whenWords(last.at, timeZone, to)}${thinned}`;
}

function toldOf(part: SourcePart, right: (reading: SourcePart['readings'][number]) => number): Told[] {
  if (part.grain !== 'reading') return part.buckets.map((bucket: Bucket) => bucket);
  return part.readings
    .filter(({ voidedAt, trust }) => voidedAt === null && trust !== 'refuted')
    .map((reading) => {
      const value = right(reading);
      return { at: reading.at, value, low: value, high: value, below: reading.below };
    });
}

function rangeWords(quantity: Quantity, told: readonly Told[]): string {
  const low = Math.min(...told.map((one) => one.low));
  const high = Math.max(...told.map((one) => one.high));
  return `${show(quantity, low).text} to ${say(quantity, high)}`;
}

function bandWords({ quantity, targets, parts, biases }: SystemView): string {
  const target = targets.get(quantity.code);
  const band = sayBand(quantity, target?.bandLow ?? null, target?.bandHigh ?? null);
  if (band === null) return 'No band is set.';
  const told = parts.flatMap((part) =>
    toldOf(part, (reading) => withoutBias(reading, biases.get(reading.kitId ?? ''))?.value ?? reading.value),
  );
  const outside = told.filter(
    ({ value, below }) =>
      (!below && target?.bandHigh != null && value > target.bandHigh) ||
      (target?.bandLow != null && value < target.bandLow),
  ).length;
  const points = parts.every((part) => part.grain === 'reading')
    ? ['reading lies', 'readings lie']
    : ['point lies', 'points lie'];
  const which = outside === 0 ? 'none lies' : plural(outside, points[0] ?? '', points[1] ?? '');
  return `The band kept is ${band}; ${which} outside.`;
}

function wrongWords({ biases }: SystemView): string {
  const wrong = [...biases.values()].filter((kit) => readsWrong(kit));
  return wrong
    .map((kit) => `${kit.label} ${biasWords(kit)}; its readings are shown corrected, as read beside.`)
    .join(' ');
}

function doneWords({ quantity, changes, doses }: SystemView): string {
  const own = doses.filter((dose) => dose.quantityCode === quantity.code).length;
  return `${plural(changes.length, 'water change', 'water changes')} and ${plural(own, 'dose', 'doses')} of it were logged.`;
}
