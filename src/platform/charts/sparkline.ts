import { scaleLinear, scaleUtc } from 'd3-scale';
import { line } from 'd3-shape';
import { escapeMarkup, px } from './markup.ts';

/** One value of a small line of history; `open` is drawn hollow (not to be relied on yet). */
export interface SparkPoint {
  at: Date;
  value: number;
  open?: boolean;
}

export interface Sparkline {
  /** Oldest first, all in one unit. */
  points: readonly SparkPoint[];
  from: Date;
  to: Date;
  /** The kept band, in the same unit; either end may be missing. */
  band?: { low: number | null; high: number | null } | null;
  /** What it shows, for those who do not see it; without one it is hidden from them (the words stand beside). */
  label?: string;
  /** How much the height stands for, around the middle of the values: lines beside each other are then of one scale. */
  span?: number;
  /** Drawn strong: the odd one among quiet ones. */
  strong?: boolean;
  width?: number;
  height?: number;
}

const pad = 3;

/** A line of history for a table's row, over its kept band: svg markup of the class "chart spark". */
export function sparkline({
  points,
  from,
  to,
  band = null,
  label,
  span,
  strong,
  width = 120,
  height = 32,
}: Sparkline): string {
  const x = scaleUtc([from, to], [pad, width - pad]);
  const values = [
    ...points.map((point) => point.value),
    ...[band?.low, band?.high].filter((end) => typeof end === 'number'),
  ];
  const [low, high] = span === undefined ? spread(values) : around(points, span);
  const y = scaleLinear([low, high], [height - pad, pad]);
  const path =
    line<SparkPoint>(
      (point) => px(x(point.at)),
      (point) => px(y(point.value)),
    )([...points]) ?? '';
  const parts = [
    bandRect(band, y, width, height),
    path === ''
      ? ''
      : `<path class="line${strong === undefined ? '' : strong ? ' gets' : ' quiet'}" d="${path}"/>`,
    lastPoint(points, x, y),
  ];
  const words = label === undefined ? 'aria-hidden="true"' : `role="img" aria-label="${escapeMarkup(label)}"`;
  return `<svg class="chart spark" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" ${words}>${parts.join('')}</svg>`;
}

function bandRect(
  band: Sparkline['band'],
  y: (value: number) => number,
  width: number,
  height: number,
): string {
  if (!band || (band.low === null && band.high === null)) return '';
  const inside = (value: number) => px(Math.max(0, Math.min(height, y(value))));
  const top = band.high === null ? 0 : inside(band.high);
  const bottom = band.low === null ? height : inside(band.low);
  if (top === 0 && bottom === height) return '';
  return `<rect class="band" x="0" y="${top}" width="${width}" height="${px(Math.max(1, bottom - top))}"/>`;
}

function lastPoint(
  points: readonly SparkPoint[],
  x: (at: Date) => number,
  y: (value: number) => number,
): string {
  const last = points.at(-1);
  if (last === undefined) return '';
  return `<circle class="point${last.open ? ' unconfirmed' : ''}" cx="${px(x(last.at))}" cy="${px(y(last.value))}" r="2.4"/>`;
}

/** The range of this length around the middle of the values. */
function around(points: readonly SparkPoint[], span: number): [number, number] {
  const values = points.map(({ value }) => value).sort((a, b) => a - b);
  const middle = ((values[0] ?? 0) + (values.at(-1) ?? 0)) / 2;
  return [middle - span / 2, middle + span / 2];
}

/** The range of the values, opened up where they are all the same. */
function spread(values: readonly number[]): [number, number] {
  if (values.length === 0) return [0, 1];
  const [low, high] = [Math.min(...values), Math.max(...values)];
  return low === high ? [low - 1, high + 1] : [low, high];
}
