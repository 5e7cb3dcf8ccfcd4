import { scaleLinear, scaleUtc } from 'd3-scale';
import { line } from 'd3-shape';
import { px } from '../../platform/charts/markup.ts';
import { middleOf, type UsualBand, type WallPoint } from './wall.rules.ts';

/** One small chart of the wall. */
export interface WallChart {
  points: readonly WallPoint[];
  from: Date;
  to: Date;
  usual: UsualBand | null;
  /** The height that all charts of its column have. */
  span: number;
  /** Since when an alert about it is open; null without one. */
  oddSince: Date | null;
  severity: 'now' | 'today' | 'watch' | null;
}

const [WIDTH, HEIGHT, PAD] = [120, 64, 4];

/** A trace in its usual band, svg markup of the class "chart wall-chart"; the figure beside it says the rest. */
export function wallChart({ points, from, to, usual, span, oddSince, severity }: WallChart): string {
  const x = scaleUtc([from, to], [0, WIDTH - PAD]).clamp(true);
  const middle = middleOf(points) ?? 0;
  const y = scaleLinear([middle - span / 2, middle + span / 2], [HEIGHT - PAD, PAD]).clamp(true);
  const path = line<WallPoint>(
    ({ at }) => px(x(at)),
    ({ value }) => px(y(value)),
  )([...points]);
  const last = points.at(-1);
  const washFrom = oddSince === null ? 0 : px(x(oddSince));
  const parts = [
    severity === null || oddSince === null
      ? ''
      : `<rect class="wash ${severity}" x="${washFrom}" y="0" width="${px(WIDTH - washFrom)}" height="${HEIGHT}"/>`,
    usual === null
      ? ''
      : `<rect class="band" x="0" y="${px(y(usual.high))}" width="${WIDTH}" height="${px(Math.max(1, y(usual.low) - y(usual.high)))}"/>`,
    path === null ? '' : `<path class="line" d="${path}"/>`,
    last === undefined
      ? ''
      : `<circle class="point${last.unconfirmed ? ' unconfirmed' : ''}" cx="${px(x(last.at))}" cy="${px(y(last.value))}" r="2.6"/>`,
  ];
  return `<svg class="chart wall-chart${severity === null ? '' : ' odd'}" viewBox="0 0 ${WIDTH} ${HEIGHT}" width="${WIDTH}" height="${HEIGHT}" aria-hidden="true">${parts.join('')}</svg>`;
}
