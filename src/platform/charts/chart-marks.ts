import { curveLinear, curveStepAfter, line } from 'd3-shape';
import { escapeMarkup, px } from './markup.ts';
import type { Frame } from './time-chart.ts';

/** One measured value, or the middle of several. */
export interface ChartPoint {
  at: Date;
  value: number;
  /** Standard uncertainty, drawn as a bar either way. */
  error: number;
  /**
   * How it is drawn: full; hollow (waits for a second one); full within a ring (confirmed); a cross (refuted); an open
   * arrow downwards at the limit (below detection), or upwards (beyond the scale).
   */
  kind: 'plain' | 'unconfirmed' | 'confirmed' | 'refuted' | 'below' | 'above';
  /** As it was read, where `value` is corrected for the kit: a short stroke, joined with it. */
  asRead?: number;
  /** Lowest and highest, where it stands for several: a bar in place of the uncertainty. */
  range?: readonly [number, number];
}

/** Another source of the same quantity; without a name ('') where it is named elsewhere. */
export interface Line {
  name: string;
  points: readonly ChartPoint[];
}

/** A course without points of its own: drawn from value to value, or stepped where each holds until the next. */
export interface Course {
  /** Of the stylesheet: "line", "forecast", "limit", with "series-2" or without. */
  mark: string;
  stepped?: boolean;
  /** `null` leaves a gap until the next value. */
  points: readonly { at: Date; value: number | null }[];
}

/** The courses, each one path. */
export function coursesOf(courses: readonly Course[], { x, y }: Frame): string {
  return courses
    .map(({ mark, stepped, points }) => {
      const path = line<Course['points'][number]>(
        ({ at }) => px(x(at)),
        ({ value }) => px(y(value ?? 0)),
      )
        .defined(({ value }) => value !== null)
        .curve(stepped === true ? curveStepAfter : curveLinear)([...points]);
      return `<path class="${mark}" d="${path}"/>`;
    })
    .join('');
}

/** How far a point reaches up and down. */
export function endsOf({ value, error, kind, range, asRead = value }: ChartPoint): number[] {
  if (kind === 'below') return [0, value];
  if (kind === 'above') return [value];
  return [value - error, value + error, asRead, ...(range ?? [])];
}

/** The points, smaller where they are many. */
export function pointsOf(points: readonly ChartPoint[], frame: Frame): string {
  const room = (frame.right - frame.left) / Math.max(1, points.length);
  const radius = room > 7 ? 3 : room > 3.5 ? 2.3 : 1.7;
  return points.map((point) => drawPoint(point, frame, radius)).join('');
}

function drawPoint(point: ChartPoint, { x, y }: Frame, radius: number): string {
  const { at, value, kind } = point;
  const [cx, cy] = [px(x(at)), px(y(value))];
  if (kind === 'below') {
    return `<path class="point below" d="M${px(cx - radius - 1)} ${cy}h${2 * radius + 2}l${-radius - 1} ${radius + 3}z"/>`;
  }
  if (kind === 'above') {
    return `<path class="point below" d="M${px(cx - radius - 1)} ${cy}h${2 * radius + 2}l${-radius - 1} ${-radius - 3}z"/>`;
  }
  if (kind === 'refuted') {
    const arm = radius + 0.5;
    return `<path class="point voided" d="M${px(cx - arm)} ${px(cy - arm)}l${2 * arm} ${2 * arm}m0 ${-2 * arm}l${-2 * arm} ${2 * arm}"/>`;
  }
  const dot = (r: number, mark = '') => `<circle class="point${mark}" cx="${cx}" cy="${cy}" r="${r}"/>`;
  const body =
    kind === 'unconfirmed'
      ? dot(radius + 0.8, ' unconfirmed')
      : kind === 'confirmed'
        ? `${dot(radius + 2.6, ' ring')}${dot(radius)}`
        : dot(radius);
  return `${barOf(point, cx, y)}${asReadOf(point, cx, cy, y)}${body}`;
}

function barOf({ value, error, range }: ChartPoint, cx: number, y: Frame['y']): string {
  const [low, high] = range ?? [value - error, value + error];
  if (high <= low) return '';
  return `<line class="bar" x1="${cx}" x2="${cx}" y1="${px(y(high))}" y2="${px(y(low))}"/>`;
}

function asReadOf({ asRead }: ChartPoint, cx: number, cy: number, y: Frame['y']): string {
  if (asRead === undefined) return '';
  const at = px(y(asRead));
  return `<path class="as-read" d="M${cx} ${cy}V${at}m-3 0h6"/>`;
}

/** Room for a name, from foot to foot. */
const nameHeight = 15;

/** Each other source as a thin line with small points and its name at its beginning: above the topmost, below the others. */
export function linesOf(lines: readonly Line[], frame: Frame): string {
  const shown = lines
    .map(({ name, points }) => ({ name, points: points.filter(({ kind }) => kind !== 'refuted') }))
    .filter(({ points }) => points.length > 0)
    .sort((a, b) => frame.y(a.points[0]?.value ?? 0) - frame.y(b.points[0]?.value ?? 0));
  let used = 0;
  const named = shown.filter(({ name }) => name !== '');
  const names = named.map(({ name, points }, i) => {
    const first = points.slice(0, 3).flatMap((point) => endsOf(point).map((end) => frame.y(end)));
    const foot = i === 0 ? Math.min(...first) - 6 : Math.max(used + nameHeight, Math.max(...first) + 14);
    used = foot;
    return `<text class="tick" x="${px(frame.x(points[0]?.at ?? new Date(0)))}" y="${px(foot)}">${escapeMarkup(name)}</text>`;
  });
  return `${shown.map(({ points }) => drawLine(points, frame)).join('')}${names.join('')}`;
}

/** A name at the right end of a line. */
export interface EndName {
  text: string;
  at: Date;
  value: number;
}

/** Names beside the ends of lines that run to the right edge, kept apart from each other. */
export function endNamesOf(names: readonly EndName[], { x, y }: Frame): string {
  let free = Number.NEGATIVE_INFINITY;
  return [...names]
    .sort((a, b) => y(a.value) - y(b.value))
    .map(({ text, at, value }) => {
      const foot = Math.max(y(value) + 4.5, free);
      free = foot + nameHeight;
      return `<text class="label" x="${px(x(at) + 4)}" y="${px(foot)}">${escapeMarkup(text)}</text>`;
    })
    .join('');
}

function drawLine(points: readonly ChartPoint[], { x, y }: Frame): string {
  const path = line<ChartPoint>(
    ({ at }) => px(x(at)),
    ({ value }) => px(y(value)),
  )([...points]);
  const marks = points.length > 40 ? '' : points.map((point) => diamond(point, x, y)).join('');
  const ranges = points
    .map((point) => (point.range === undefined ? '' : barOf(point, px(x(point.at)), y)))
    .join('');
  return `${ranges}<path class="line series-2" d="${path}"/>${marks}`;
}

function diamond({ at, value, error, kind, range }: ChartPoint, x: Frame['x'], y: Frame['y']): string {
  const [cx, cy] = [px(x(at)), px(y(value))];
  const isBound = kind === 'below' || kind === 'above';
  const mark = isBound || kind === 'unconfirmed' ? ' unconfirmed' : '';
  const bar = range === undefined && !isBound ? barOf({ at, value, error, kind }, cx, y) : '';
  return `${bar}<path class="point series-2${mark}" d="M${cx} ${px(cy - 4)}l4 4l-4 4l-4 -4z"/>`;
}
