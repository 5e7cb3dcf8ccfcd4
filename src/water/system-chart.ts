import { type ChartEvent, type ChartPoint, timeChart } from '../platform/charts/time-chart.ts';
import { plural, whenWords } from '../platform/words.ts';
import { farmValue, type Quantity, say, sayBand, show, showDifference, unitName } from './quantities.ts';
import type { SeriesReading } from './readings.ts';
import type { SystemView } from './system.ts';

/** A chart's picture for wide and for narrow pages, and the sentence that says what it shows. */
export interface SystemChart {
  wide: string;
  narrow: string;
  says: string;
}

interface Around {
  systemName: string;
  from: Date;
  to: Date;
  days: number;
  timeZone: string;
}

/** The chart of the chosen quantity. */
export function systemChart(view: SystemView, around: Around): SystemChart {
  const { quantity, targets, series } = view;
  const target = targets.get(quantity.code);
  const inFarm = (value: number | null | undefined) =>
    value === null || value === undefined ? null : farmValue(quantity, value).value;
  const standing = series.filter((reading) => reading.voidedAt === null);
  const limit = inFarm(target?.limitHigh);
  const says = sentence(view, standing, around);
  const chart = {
    label: says,
    from: around.from,
    to: around.to,
    timeZone: around.timeZone,
    points: standing.map((reading) => pointOf(quantity, reading)),
    band: { low: inFarm(target?.bandLow), high: inFarm(target?.bandHigh) },
    limit:
      limit === null ? null : { value: limit, text: `limit ${show(quantity, target?.limitHigh ?? 0).text}` },
    markers: view.openings.map(({ at, label }) => ({ at, text: `${label} opened` })),
    events: eventsOf(view),
  };
  return { wide: timeChart(chart), narrow: timeChart({ ...chart, width: 360, height: 300 }), says };
}

function pointOf(quantity: Quantity, reading: SeriesReading): ChartPoint {
  const { value, unit } = farmValue(quantity, reading.value);
  const low = farmValue(quantity, Math.max(quantity.possibleLow, reading.value - reading.uncertainty));
  const error = low.unit === unit ? Math.abs(value - low.value) : 0;
  const kind = reading.below
    ? 'below'
    : reading.trust === 'unconfirmed'
      ? 'unconfirmed'
      : reading.trust === 'refuted'
        ? 'refuted'
        : 'plain';
  return { at: reading.at, value, error, kind };
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

/** What the picture shows, for those who do not see it, and beneath it for everybody. */
function sentence(
  { quantity, targets, changes, doses }: SystemView,
  standing: readonly SeriesReading[],
  around: Around,
): string {
  const { systemName, days, timeZone, to } = around;
  const last = standing.at(-1);
  const subject = `${quantity.name} in ${systemName} over ${days} days`;
  if (last === undefined) return `${subject}: no readings.`;
  const relied = standing.filter((reading) => reading.trust !== 'refuted');
  const values = relied.map((reading) => reading.value);
  const range =
    relied.length < 2
      ? ''
      : ` from ${show(quantity, Math.min(...values)).text} to ${say(quantity, Math.max(...values))}`;
  const target = targets.get(quantity.code);
  const band = sayBand(quantity, target?.bandLow ?? null, target?.bandHigh ?? null);
  const outside = relied.filter(
    ({ value, below }) =>
      (!below && target?.bandHigh != null && value > target.bandHigh) ||
      (target?.bandLow != null && value < target.bandLow),
  ).length;
  const kept =
    band === null
      ? 'No band is set.'
      : `The band kept is ${band}; ${outside === 0 ? 'none lies' : plural(outside, 'reading lies', 'readings lie')} outside.`;
  const own = doses.filter((dose) => dose.quantityCode === quantity.code).length;
  const done = `${plural(changes.length, 'water change', 'water changes')} and ${plural(own, 'dose', 'doses')} of it were logged.`;
  return `${subject}: ${plural(standing.length, 'reading', 'readings')}${range}, the last ${say(quantity, last.value, last.below)} on ${whenWords(last.at, timeZone, to)}. ${kept} ${done}`;
}

/** One line of the table beneath the chart: the same values in words. */
export function tableRow(quantity: Quantity, reading: SeriesReading) {
  const { text } = show(quantity, reading.value);
  const entered = `${reading.enteredText} ${unitName(quantity.code, reading.enteredUnit)}`.trim();
  return {
    ...reading,
    text: `${reading.below ? '< ' : ''}${text}`,
    plusMinus: reading.below
      ? 'below detection'
      : `± ${showDifference(quantity, reading.uncertainty, reading.value).text}`,
    entered,
    how: [reading.method, reading.kit].filter((part) => part !== null).join(', '),
    trustWords: reading.trust === 'plain' ? '' : reading.trust,
    voided: reading.voidedAt !== null,
    says: reading.voidedAt !== null || reading.trust !== 'plain' || reading.note !== '',
  };
}
