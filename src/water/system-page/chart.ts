import type { Ahead } from '../../platform/charts/forecast-band.ts';
import { type ChartEvent, type ChartPoint, timeChart } from '../../platform/charts/time-chart.ts';
import { plural } from '../../platform/words/numbers.ts';
import { whenWords } from '../../platform/words/times.ts';
import { biasWords, readsWrong, withoutBias } from '../kits/bias.rules.ts';
import { farmValue, type Quantity, say, sayBand, show } from '../quantities/quantities.ts';
import type { SeriesReading } from '../readings/readings.ts';
import { type Bucket, nameOf, type SourcePart } from '../readings/sources.ts';
import { outlookWords } from './forecast.rules.ts';
import type { SystemView } from './system.ts';

/** A chart's picture for wide and for narrow pages, and the sentence that says what it shows. */
export interface SystemChart {
  wide: string;
  narrow: string;
  says: string;
}

/** The chart of the chosen quantity: the farm's own tests as points, every other source as a line of its own. */
export function systemChart(view: SystemView, around: Around): SystemChart {
  const { quantity, targets, parts, kits, outlook } = view;
  const target = targets.get(quantity.code);
  const inFarm = (value: number | null | undefined) =>
    value === null || value === undefined ? null : farmValue(quantity, value).value;
  const limit = inFarm(target?.limitHigh);
  const says = chartSentence(view, around);
  const ahead = aheadOf(view);
  const chart = {
    label: says,
    from: around.from,
    to: outlook?.points.at(-1)?.at ?? around.to,
    timeZone: around.timeZone,
    points: parts.filter(({ kind }) => kind === 'hand').flatMap((part) => pointsOf(view, part)),
    lines: parts
      .filter(({ kind }) => kind !== 'hand')
      .map((part) => ({ name: nameOf(part), points: pointsOf(view, part) })),
    ahead,
    band: { low: inFarm(target?.bandLow), high: inFarm(target?.bandHigh) },
    limit:
      limit === null ? null : { value: limit, text: `limit ${show(quantity, target?.limitHigh ?? 0).text}` },
    markers: kits
      .filter(({ openedAt }) => openedAt >= around.from && openedAt <= around.to)
      .map(({ openedAt, label }) => ({ at: openedAt, text: `${label} opened` })),
    events: eventsOf(view),
  };
  return { wide: timeChart(chart), narrow: timeChart({ ...chart, width: 360, height: 300 }), says };
}

function pointsOf({ quantity, biases }: SystemView, part: SourcePart): ChartPoint[] {
  if (part.grain !== 'reading')
    return part.buckets.map((bucket) => bucketPoint(quantity, bucket, part.grain));
  return part.readings
    .filter((reading) => reading.voidedAt === null)
    .map((reading) => pointOf(quantity, reading, withoutBias(reading, biases.get(reading.kitId ?? ''))));
}

function pointOf(
  quantity: Quantity,
  reading: SeriesReading,
  right: { value: number; uncertainty: number } | null,
): ChartPoint {
  const { value: canonical, uncertainty } = right ?? reading;
  const { value, unit } = farmValue(quantity, canonical);
  const low = farmValue(quantity, Math.max(quantity.possibleLow, canonical - uncertainty));
  const error = low.unit === unit ? Math.abs(value - low.value) : 0;
  const asRead = right === null ? {} : { asRead: farmValue(quantity, reading.value).value };
  return { at: reading.at, value, error, kind: reading.below ? 'below' : reading.trust, ...asRead };
}

const half: Record<SourcePart['grain'], number> = { reading: 0, hour: 1 / 48, day: 0.5, week: 3.5 };

/** Several readings as one point in the middle of their hour, day or week. */
function bucketPoint(
  quantity: Quantity,
  { at, value, low, high, below }: Bucket,
  grain: SourcePart['grain'],
): ChartPoint {
  const inFarm = (canonical: number) => farmValue(quantity, canonical).value;
  return {
    at: new Date(at.getTime() + half[grain] * 86_400_000),
    value: inFarm(value),
    error: 0,
    range: [inFarm(low), inFarm(high)],
    kind: below ? 'below' : 'plain',
  };
}

function aheadOf({ quantity, outlook }: SystemView): Ahead | null {
  const [first] = outlook?.points ?? [];
  if (outlook === null || first === undefined) return null;
  const inFarm = (value: number) => farmValue(quantity, value).value;
  const points = outlook.points.map(({ at, value, low, high }) => {
    const [one, other] = [inFarm(low), inFarm(high)];
    return { at, value: inFarm(value), low: Math.min(one, other), high: Math.max(one, other) };
  });
  return { now: first.at, points };
}

/** Water changes tall, doses of this quantity short, all else that went in a dot. */
function eventsOf({ changes, doses, feedings, quantity }: SystemView): ChartEvent[] {
  return [
    ...changes.map(({ at }) => ({ at, kind: 'tall' as const })),
    ...doses.map(({ at, quantityCode }) => ({
      at,
      kind: quantityCode === quantity.code ? ('short' as const) : ('dot' as const),
    })),
    ...feedings.map(({ at }) => ({ at, kind: 'dot' as const })),
  ];
}

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
