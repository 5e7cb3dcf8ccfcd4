import { scaleLinear } from 'd3-scale';
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
  const scale = scaleLinear([from.getTime(), to.getTime()], [0, WIDTH - PAD]).clamp(true);
  const x = (at: Date) => scale(at.getTime());
  const middle = middleOf(points) ?? 0;
  const y = scaleLinear([middle - span / 2, middle + span / 2], [HEIGHT - PAD, PAD]).clamp(true);
  // Written at once: a general writer of paths took longer than all else about a page with a hundred of these.
  const path = points.map(({ at, value }) => `${px(x(at))},${px(y(value))}`).join('L');
  const last = points.at(-1);
  const washFrom = oddSince === null ? 0 : px(x(oddSince));
  const parts = [
    severity === null || oddSince === null
      ? ''
      : `<rect class="wash ${severity}" x="${washFrom}" y="0" width="${px(WIDTH - washFrom)}" height="${HEIGHT}"/>`,
    usual === null
      ? ''
      : `<rect class="band" x="0" y="${px(y(usual.high))}" width="${WIDTH}" height="${px(Math.max(1, y(usual.low) - y(usual.high)))}"/>`,
    path === '' ? '' : `<path class="line" d="M${path}"/>`,
    last === undefined
      ? ''
      : `<circle class="point${last.unconfirmed ? ' unconfirmed' : ''}" cx="${px(x(last.at))}" cy="${px(y(last.value))}" r="2.6"/>`,
  ];
  return `<svg class="chart wall-chart${severity === null ? '' : ' odd'}" viewBox="0 0 ${WIDTH} ${HEIGHT}" width="${WIDTH}" height="${HEIGHT}" aria-hidden="true">${parts.join('')}</svg>`;
}
