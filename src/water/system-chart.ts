import type { Ahead } from '../platform/charts/forecast-band.ts';
import { type ChartEvent, type ChartPoint, timeChart } from '../platform/charts/time-chart.ts';
import { type Around, chartSentence } from './chart-words.ts';
import { withoutBias } from './kits/bias.rules.ts';
import { farmValue, type Quantity, show } from './quantities/quantities.ts';
import type { SeriesReading } from './readings/readings.ts';
import { type Bucket, nameOf, type SourcePart } from './readings/sources.ts';
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
