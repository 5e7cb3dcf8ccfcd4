import { eventKinds } from '../../farm/events/kinds.rules.ts';
import type { Ahead } from '../../platform/charts/forecast-band.ts';
import {
  type ChartEvent,
  type ChartPoint,
  type TimeChart,
  timeChart,
} from '../../platform/charts/time-chart.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { removeBias } from '../kits/bias.rules.ts';
import { farmValue, type Quantity, show } from '../quantities/quantities.ts';
import type { SeriesReading } from '../readings/series.ts';
import { type Bucket, type SourceReadings, sourceName } from '../readings/sources.ts';
import { type ChartPeriod, chartSentence, offWords } from './chart-words.rules.ts';
import type { SystemView } from './system-page.ts';

/** A chart's picture for wide and for narrow pages, and the sentence that says what it shows. */
export interface SystemChart {
  wide: string;
  narrow: string;
  says: string;
}

/** The chart of the chosen quantity for wide and narrow pages. */
export function systemChart(view: SystemView, period: ChartPeriod): SystemChart {
  const chart = seriesChart(view, period);
  return {
    wide: timeChart(chart),
    narrow: timeChart({ ...chart, width: 360, height: 300 }),
    says: chart.label,
  };
}

/** A quantity over some days: the farm's own tests as points, every other source as a line of its own. */
export function seriesChart(view: SystemView, period: ChartPeriod): TimeChart {
  const { quantity, targets, parts, kits, forecast } = view;
  const { from, to, timeZone } = period;
  const target = targets.get(quantity.code);
  const inFarm = (value: number | null | undefined) =>
    value === null || value === undefined ? null : farmValue(quantity, value).value;
  const limit = inFarm(target?.limitHigh);
  return {
    label: chartSentence(view, period),
    from,
    to: forecast?.points.at(-1)?.at ?? to,
    timeZone,
    points: parts.filter(({ kind }) => kind === 'hand').flatMap((part) => pointsOf(view, part)),
    lines: parts
      .filter(({ kind }) => kind !== 'hand')
      .map((part) => ({ name: sourceName(part), points: pointsOf(view, part) })),
    ahead: forecastBand(view),
    band: { low: inFarm(target?.bandLow), high: inFarm(target?.bandHigh) },
    limit:
      limit === null ? null : { value: limit, text: `limit ${show(quantity, target?.limitHigh ?? 0).text}` },
    markers: kits
      .filter(({ openedAt }) => openedAt >= from && openedAt <= to)
      .map(({ openedAt, label }) => ({ at: openedAt, text: `${label} opened` }))
      .concat(
        view.events
          .filter(({ at, voidedAt }) => voidedAt === null && at >= from && at <= to)
          .map(({ at, kind }) => ({ at, text: eventKinds[kind] })),
      ),
    events: eventsOf(view),
    spans: view.off.map((off) => ({ from: off.from, to: off.to, text: offWords(off, timeZone, to) })),
  };
}

function pointsOf({ quantity, biases }: SystemView, part: SourceReadings): ChartPoint[] {
  if (part.grain !== 'reading')
    return part.buckets.map((bucket) => bucketPoint(quantity, bucket, part.grain));
  return part.readings
    .filter((reading) => reading.voidedAt === null)
    .map((reading) => readingPoint(quantity, reading, removeBias(reading, biases.get(reading.kitId ?? ''))));
}

/** `corrected`: the reading without its kit's bias; null where the kit is not known to read wrong. */
function readingPoint(
  quantity: Quantity,
  reading: SeriesReading,
  corrected: { value: number; uncertainty: number } | null,
): ChartPoint {
  const { value: canonical, uncertainty } = corrected ?? reading;
  const { value, unit } = farmValue(quantity, canonical);
  const low = farmValue(quantity, Math.max(quantity.possibleLow, canonical - uncertainty));
  const error = low.unit === unit ? Math.abs(value - low.value) : 0;
  const asRead = corrected === null ? {} : { asRead: farmValue(quantity, reading.value).value };
  return {
    at: reading.at,
    value,
    error,
    kind: reading.below ? 'below' : reading.above ? 'above' : reading.trust,
    ...asRead,
  };
}

/** Days from the start of an hour, day or week to its middle. */
const daysToMiddle: Record<SourceReadings['grain'], number> = {
  reading: 0,
  hour: 1 / 48,
  day: 0.5,
  week: 3.5,
};

/** Several readings as one point in the middle of their hour, day or week. */
function bucketPoint(
  quantity: Quantity,
  { at, value, low, high, below, above }: Bucket,
  grain: SourceReadings['grain'],
): ChartPoint {
  const inFarm = (canonical: number) => farmValue(quantity, canonical).value;
  return {
    at: daysAfter(at, daysToMiddle[grain]),
    value: inFarm(value),
    error: 0,
    range: [inFarm(low), inFarm(high)],
    kind: below ? 'below' : above ? 'above' : 'plain',
  };
}

function forecastBand({ quantity, forecast }: SystemView): Ahead | null {
  const [first] = forecast?.points ?? [];
  if (forecast === null || first === undefined) return null;
  const inFarm = (value: number) => farmValue(quantity, value).value;
  const points = forecast.points.map(({ at, value, low, high }) => {
    const [one, other] = [inFarm(low), inFarm(high)];
    return { at, value: inFarm(value), low: Math.min(one, other), high: Math.max(one, other) };
  });
  return { now: first.at, points };
}

/** Water changes as tall ticks, doses of this quantity as short ones, everything else that was added as a dot. */
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
