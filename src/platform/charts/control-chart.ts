import { scaleLinear, scalePoint } from 'd3-scale';
import { line } from 'd3-shape';
import { numberWords, withSign } from '../words/numbers.ts';
import { escapeMarkup, px } from './markup.ts';

/** One value of a control chart, in its order. */
export interface ControlPoint {
  /** Its day, beneath. */
  day: string;
  value: number;
  /** The moving average up to it. */
  average: number;
  /** Limits of the moving average there. */
  averageLow: number;
  averageHigh: number;
  /** A rule asks to look at it again. */
  marked: boolean;
}

/** Single values in their order about a centre, with a moving average; all in one unit. */
export interface ControlChart {
  /** One sentence that says what the picture shows. */
  label: string;
  points: readonly ControlPoint[];
  center: number;
  /** One standard deviation of a single value. */
  sd: number;
  unit: string;
  width?: number;
  height?: number;
}

const margin = { left: 52, right: 14, top: 14, bottom: 34 };

/** A control chart: values as points, their limits at 2 and 3 SD, the moving average as a line within its own limits. */
export function controlChart(chart: ControlChart): string {
  const { points, center, sd, width = 720, height = 260, label } = chart;
  const ends = points.flatMap(({ value, average }) => [value, average]);
  const low = Math.min(center - 3.4 * sd, ...ends);
  const high = Math.max(center + 3.4 * sd, ...ends);
  const y = scaleLinear([low, high], [height - margin.bottom, margin.top]);
  const x = scalePoint(
    points.map((_, i) => i),
    [margin.left, width - margin.right],
  ).padding(0.6);
  const at = (i: number) => px(x(i) ?? margin.left);
  const parts = [
    averageBand(points, at, y),
    [-3, -2, 0, 2, 3].map((k) => levelLine(center + k * sd, k, y, width, chart)).join(''),
    averageLine(points, at, y),
    points.map((point, i) => drawPoint(point, at(i), px(y(point.value)))).join(''),
    days(points, at, height),
  ];
  return `<svg class="chart" viewBox="0 0 ${width} ${height}" role="img" aria-label="${escapeMarkup(label)}">${parts.join('')}</svg>`;
}

function levelLine(
  value: number,
  k: number,
  y: (value: number) => number,
  width: number,
  { unit }: ControlChart,
): string {
  const kind = Math.abs(k) === 3 ? 'limit' : k === 0 ? 'axis' : 'grid';
  const words = k === 0 ? 'true' : withSign(value, `${numberWords(Math.abs(value), 1)}${unit}`);
  const text = `<text class="tick" x="${margin.left - 8}" y="${px(y(value) + 4.5)}" text-anchor="end">${words}</text>`;
  return `<line class="${kind}" x1="${margin.left}" x2="${width - margin.right}" y1="${px(y(value))}" y2="${px(y(value))}"/>${text}`;
}

function averageBand(
  points: readonly ControlPoint[],
  at: (i: number) => number,
  y: (value: number) => number,
): string {
  if (points.length < 2) return '';
  const upper = points.map(({ averageHigh }, i) => `${at(i)} ${px(y(averageHigh))}`);
  const lower = points.map(({ averageLow }, i) => `${at(i)} ${px(y(averageLow))}`).reverse();
  return `<path class="forecast-band" d="M${[...upper, ...lower].join('L')}Z"/>`;
}

function averageLine(
  points: readonly ControlPoint[],
  at: (i: number) => number,
  y: (value: number) => number,
): string {
  const path = line<ControlPoint>(
    (_, i) => at(i),
    ({ average }) => px(y(average)),
  )([...points]);
  return points.length < 2 ? '' : `<path class="forecast" d="${path}"/>`;
}

function drawPoint({ marked }: ControlPoint, cx: number, cy: number): string {
  const ring = marked ? `<circle class="point ring" cx="${cx}" cy="${cy}" r="6.5"/>` : '';
  return `${ring}<circle class="point" cx="${cx}" cy="${cy}" r="3.2"/>`;
}

/** Days beneath, as many as there is room for. */
function days(points: readonly ControlPoint[], at: (i: number) => number, height: number): string {
  let free = 0;
  return points
    .map(({ day }, i) => {
      const half = day.length * 3.6;
      if (at(i) - half < free) return '';
      free = at(i) + half + 8;
      return `<text class="tick" x="${at(i)}" y="${height - 10}" text-anchor="middle">${escapeMarkup(day)}</text>`;
    })
    .join('');
}
