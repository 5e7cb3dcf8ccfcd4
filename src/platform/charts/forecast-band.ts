import { area, line } from 'd3-shape';
import { px } from './markup.ts';
import type { Frame } from './time-chart.ts';

/** A value expected at a time, with the interval it is expected in. */
export interface AheadPoint {
  at: Date;
  value: number;
  low: number;
  high: number;
}

/** What is expected from now on, oldest first. */
export interface Ahead {
  now: Date;
  points: readonly AheadPoint[];
}

/** How far the interval may stretch the picture beyond what was measured: own choice, so that the past stays readable. */
const stretch = 0.6;

/** The ends of the forecast that the picture makes room for. */
export function aheadEnds(ahead: Ahead | null, measured: readonly number[]): number[] {
  if (ahead === null) return [];
  const values = ahead.points.map(({ value }) => value);
  const all = [...measured, ...values];
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const room = stretch * Math.max(high - low, Math.abs(high) / 20);
  return ahead.points.flatMap((point) => [
    point.value,
    Math.max(point.low, low - room),
    Math.min(point.high, high + room),
  ]);
}

/** A line for now, a pale band for the interval, a dashed line for what is expected. */
export function aheadOf(ahead: Ahead | null, { x, y, top, bottom }: Frame): string {
  if (ahead === null || ahead.points.length === 0) return '';
  const inside = (value: number) => Math.max(top, Math.min(bottom, y(value)));
  const points = [...ahead.points];
  const band = area<AheadPoint>(
    ({ at }) => px(x(at)),
    ({ low }) => px(inside(low)),
    ({ high }) => px(inside(high)),
  )(points);
  const middle = line<AheadPoint>(
    ({ at }) => px(x(at)),
    ({ value }) => px(inside(value)),
  )(points);
  const now = px(x(ahead.now));
  return `<path class="forecast-band" d="${band}"/><path class="forecast" d="${middle}"/><line class="now-line" x1="${now}" x2="${now}" y1="${top}" y2="${bottom}"/>`;
}
