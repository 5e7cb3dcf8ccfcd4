import { extent } from 'd3-array';
import { type ScaleLinear, type ScaleTime, scaleLinear, scaleUtc } from 'd3-scale';
import { numberWords } from '../words/numbers.ts';
import {
  type ChartPoint,
  type Course,
  coursesOf,
  type EndName,
  endNamesOf,
  endsOf,
  type Line,
  linesOf,
  pointsOf,
} from './chart-marks.ts';
import { dayTicks } from './days.ts';
import { type Ahead, aheadEnds, aheadOf } from './forecast-band.ts';
import { type BarLane, barLanesOf, laneHeight, type Wash, washOf, washRoom, washWords } from './lanes.ts';
import { escapeMarkup, px } from './markup.ts';

export type { ChartPoint, Course } from './chart-marks.ts';

/** What was done, as a tick in the lane beneath: tall, short, or a dot. */
export interface ChartEvent {
  at: Date;
  kind: 'tall' | 'short' | 'dot';
}

/** Something that lasted, as a bar in the lane beneath; `to` null: it still does. */
export interface ChartSpan {
  from: Date;
  to: Date | null;
  text: string;
}

/** A quantity over time; all values in one unit. */
export interface TimeChart {
  /** One sentence that says what the picture shows. */
  label: string;
  from: Date;
  to: Date;
  timeZone: string;
  points: readonly ChartPoint[];
  /** Other sources of the same quantity, each a line of its own with its name at its end. */
  lines?: readonly Line[];
  /** Courses without points of their own. */
  courses?: readonly Course[];
  /** Short names at the right ends of lines. */
  endNames?: readonly EndName[];
  /** What is expected from now on. */
  ahead?: Ahead | null;
  band?: { low: number | null; high: number | null } | null;
  limit?: { value: number; text: string } | null;
  /** Moments with a name, as a line from top to bottom (a kit opened). */
  markers?: readonly { at: Date; text: string }[];
  events?: readonly ChartEvent[];
  spans?: readonly ChartSpan[];
  /** The time since something is so. */
  wash?: Wash | null;
  /** Bars beneath, in place of the lane of ticks. The picture gets as much higher. */
  lanes?: readonly BarLane[];
  /** What is counted: the scale begins at nothing and has whole numbers alone. */
  isCount?: boolean;
  width?: number;
  height?: number;
}

/** Where things stand in the picture. */
export interface Frame {
  x: ScaleTime<number, number>;
  y: ScaleLinear<number, number>;
  left: number;
  right: number;
  top: number;
  bottom: number;
  /** The foot of the lane of ticks. */
  lane: number;
}

const margin = { left: 46, right: 14, top: 24, bottom: 64 };
const tickHeights = { tall: 16, short: 8, dot: 0 };

/** Points with their uncertainty over the kept band, with a lane of what was done: svg markup of the class "chart". */
export function timeChart(chart: TimeChart): string {
  const { width = 960, label, lanes = [], wash = null } = chart;
  const height = (chart.height ?? 340) + lanes.length * laneHeight;
  const frame = frameOf(chart, width, height);
  const hatch = `hatch-${width}`;
  const parts = [
    hatchPattern(hatch),
    washOf(wash, frame),
    bandOf(chart, frame, hatch),
    aheadOf(chart.ahead ?? null, frame),
    gridOf(chart, frame),
    daysOf(chart, frame),
    limitOf(chart, frame),
    markersOf(chart, frame),
    coursesOf(chart.courses ?? [], frame),
    linesOf(chart.lines ?? [], frame),
    pointsOf(chart.points, frame),
    endNamesOf(chart.endNames ?? [], frame),
    spansOf(chart, frame),
    lanes.length === 0 ? laneOf(chart, frame) : barLanesOf(lanes, wash, frame),
    washWords(wash, frame),
  ];
  return `<svg class="chart" viewBox="0 0 ${width} ${height}" role="img" aria-label="${escapeMarkup(label)}">${parts.join('')}</svg>`;
}

function frameOf(chart: TimeChart, width: number, height: number): Frame {
  const lanes = (chart.lanes ?? []).length * laneHeight;
  const above = chart.wash == null ? 0 : washRoom;
  const [left, right, top] = [margin.left, width - margin.right, margin.top + above];
  const [bottom, lane] = [height - margin.bottom - lanes, height - margin.bottom + 30];
  const x = scaleUtc([chart.from, chart.to], [left, right]);
  const y = scaleLinear(domainOf(chart), [bottom, top]).nice(5);
  return { x, y, left, right, top, bottom, lane };
}

/** From the lowest to the highest of what is drawn; a limit only where it does not press the readings flat. */
function domainOf({
  points,
  lines = [],
  courses = [],
  ahead,
  band,
  limit,
  isCount = false,
}: TimeChart): [number, number] {
  const ends = [...points, ...lines.flatMap((line) => line.points)].flatMap(endsOf);
  const kept = [band?.low, band?.high].filter((end) => typeof end === 'number');
  const drawn = courses.flatMap((course) => course.points.flatMap(({ value }) => value ?? []));
  const [low = 0, high = 1] = extent([
    ...(isCount ? [0] : []),
    ...ends,
    ...drawn,
    ...kept,
    ...aheadEnds(ahead ?? null, ends),
  ]);
  const top =
    limit && limit.value > high && limit.value <= high + 3 * Math.max(high - low, high / 3)
      ? limit.value
      : high;
  if (low === top) return isCount ? [0, 1] : [low - 1, top + 1];
  return [low, top];
}

/** The slant lines of the kept band. The pattern carries its own name, since a page may hold two charts. */
function hatchPattern(id: string): string {
  return `<defs><pattern id="${id}" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="hatch" x1="0" x2="0" y1="0" y2="6"/></pattern></defs>`;
}

function bandOf({ band }: TimeChart, { y, left, right, top, bottom }: Frame, hatch: string): string {
  if (!band || (band.low === null && band.high === null)) return '';
  const high = band.high === null ? top : Math.max(top, y(band.high));
  const low = band.low === null ? bottom : Math.min(bottom, y(band.low));
  const place = `x="${left}" y="${px(high)}" width="${right - left}" height="${px(Math.max(0, low - high))}"`;
  return `<rect ${place} fill="url(#${hatch})"/>`;
}

function gridOf({ isCount = false }: TimeChart, { y, left, right }: Frame): string {
  const ticks = y.ticks(5).filter((tick) => !isCount || Number.isInteger(tick));
  const step = (ticks[1] ?? 1) - (ticks[0] ?? 0);
  const decimals = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
  return ticks
    .map((tick) => {
      const text = `<text class="tick" x="${left - 8}" y="${px(y(tick) + 4.5)}" text-anchor="end">${numberWords(tick, decimals)}</text>`;
      return `<line class="grid" x1="${left}" x2="${right}" y1="${px(y(tick))}" y2="${px(y(tick))}"/>${text}`;
    })
    .join('');
}

function daysOf({ from, to, timeZone }: TimeChart, { x, left, right, lane }: Frame): string {
  const ticks = dayTicks(from, to, timeZone, Math.floor((right - left) / 85));
  return ticks
    .map(({ at, text }) => {
      const edge = x(at) > right - 24 ? 'end' : 'middle';
      return `<text class="tick" x="${px(edge === 'end' ? right : x(at))}" y="${lane + 22}" text-anchor="${edge}">${escapeMarkup(text)}</text>`;
    })
    .join('');
}

function limitOf({ limit }: TimeChart, { y, left, right, top, bottom }: Frame): string {
  if (!limit) return '';
  const at = y(limit.value);
  if (at < top - 0.5 || at > bottom) return '';
  const text = `<text class="limit-label" x="${right}" y="${px(at - 5)}" text-anchor="end">${escapeMarkup(limit.text)}</text>`;
  return `<line class="limit" x1="${left}" x2="${right}" y1="${px(at)}" y2="${px(at)}"/>${text}`;
}

/** Names stand above the picture, left out where the one before would run into them. */
function markersOf({ markers = [] }: TimeChart, { x, left, right, top, bottom }: Frame): string {
  let free = left;
  return markers
    .map(({ at, text }) => {
      const here = x(at);
      const long = text.length * 6.5 + 8;
      const anchor = here + long > right ? 'end' : 'start';
      const starts = anchor === 'end' ? here - long : here;
      const named = starts >= free;
      if (named) free = starts + long;
      const words = named
        ? `<text class="tick" x="${px(here + (anchor === 'end' ? -4 : 4))}" y="${top - 8}" text-anchor="${anchor}">${escapeMarkup(text)}</text>`
        : '';
      return `<line class="now-line" stroke-dasharray="2 3" x1="${px(here)}" x2="${px(here)}" y1="${top - 18}" y2="${bottom}"/>${words}`;
    })
    .join('');
}

/** The least width of a bar, so that an hour is seen in a year. */
const leastBar = 3;

/** Bars in the lane, hatched; their words stand in a title each, and in the chart's sentence. */
function spansOf({ spans = [], to: end }: TimeChart, { x, left, right, lane }: Frame): string {
  return spans
    .map(({ from, to, text }) => {
      const start = Math.max(left, x(from));
      const width = Math.max(leastBar, Math.min(right, x(to ?? end)) - start);
      const place = `x="${px(Math.min(start, right - leastBar))}" y="${lane - 20}" width="${px(width)}" height="6"`;
      return `<rect class="span" ${place}><title>${escapeMarkup(text)}</title></rect>`;
    })
    .join('');
}

/** Ticks that fall on one pixel are one tick. */
function laneOf({ events = [] }: TimeChart, { x, left, right, lane }: Frame): string {
  const seen = new Set<string>();
  const ticks = events.flatMap(({ at, kind }) => {
    const here = Math.round(x(at));
    if (here < left || here > right || seen.has(`${kind}${here}`)) return [];
    seen.add(`${kind}${here}`);
    if (kind === 'dot') return [`<circle class="event minor" cx="${here}" cy="${lane}" r="0.9"/>`];
    const minor = kind === 'short' ? ' minor' : '';
    return [
      `<line class="event${minor}" x1="${here}" x2="${here}" y1="${lane - tickHeights[kind]}" y2="${lane}"/>`,
    ];
  });
  return `<line class="lane" x1="${left}" x2="${right}" y1="${lane}" y2="${lane}"/>${ticks.join('')}`;
}
