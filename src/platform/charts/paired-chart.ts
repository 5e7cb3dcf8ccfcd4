import { extent } from 'd3-array';
import { scaleLinear, scalePoint } from 'd3-scale';
import { numberWords } from '../words/numbers.ts';
import { escapeMarkup, px } from './markup.ts';

/** One test beside what is known: the two values, in one unit. */
export interface PairedTest {
  /** Its day, beneath. */
  day: string;
  truth: number;
  shown: number;
  /** Beside a standard; else beside another instrument. */
  standard: boolean;
}

/** Tests in their order, each with its two values joined. */
export interface PairedChart {
  /** One sentence that says what the picture shows. */
  label: string;
  tests: readonly PairedTest[];
  unit: string;
  /** What the full and the open points are called. */
  names: { truth: string; shown: string };
  width?: number;
  height?: number;
}

const margin = { left: 46, right: 74, top: 18, bottom: 34 };

/** What is true as full points, what was shown as open ones, a line between: how far apart is seen at once. */
export function pairedChart(chart: PairedChart): string {
  const { tests, width = 720, height = 280, label } = chart;
  const [low = 0, high = 1] = extent(tests.flatMap(({ truth, shown }) => [truth, shown]));
  const room = Math.max((high - low) * 0.15, Math.abs(high) / 100, 1e-9);
  const y = scaleLinear([low - room, high + room], [height - margin.bottom, margin.top]).nice(4);
  const x = scalePoint(
    tests.map((_, i) => i),
    [margin.left, width - margin.right],
  ).padding(0.6);
  const at = (i: number) => px(x(i) ?? margin.left);
  const parts = [
    gridOf(y, width, chart.unit),
    tests.map((test, i) => pairOf(test, at(i), y)).join(''),
    namesOf(chart, y, width),
    daysOf(tests, at, height),
  ];
  return `<svg class="chart" viewBox="0 0 ${width} ${height}" role="img" aria-label="${escapeMarkup(label)}">${parts.join('')}</svg>`;
}

type Scale = ReturnType<typeof scaleLinear<number, number>>;

function gridOf(y: Scale, width: number, unit: string): string {
  const ticks = y.ticks(5);
  const decimals = Math.max(0, Math.ceil(-Math.log10((ticks[1] ?? 1) - (ticks[0] ?? 0)) - 1e-9));
  return ticks
    .map((tick, i) => {
      const words = `${numberWords(tick, decimals)}${i === ticks.length - 1 ? ` ${unit}` : ''}`;
      const text =
        i === ticks.length - 1
          ? `<text class="tick" x="4" y="${px(y(tick) - 6)}">${escapeMarkup(words)}</text>`
          : `<text class="tick" x="${margin.left - 8}" y="${px(y(tick) + 4.5)}" text-anchor="end">${escapeMarkup(words)}</text>`;
      return `<line class="grid" x1="${margin.left}" x2="${width - margin.right}" y1="${px(y(tick))}" y2="${px(y(tick))}"/>${text}`;
    })
    .join('');
}

function pairOf({ truth, shown }: PairedTest, cx: number, y: Scale): string {
  const [a, b] = [px(y(truth)), px(y(shown))];
  return `<line class="bar" x1="${cx}" x2="${cx}" y1="${a}" y2="${b}"/><circle class="point" cx="${cx}" cy="${a}" r="4"/><circle class="point unconfirmed" cx="${cx}" cy="${b}" r="4.5"/>`;
}

/** The two names at the right, beside the last pair, kept apart. */
function namesOf({ tests, names }: PairedChart, y: Scale, width: number): string {
  const last = tests.at(-1);
  if (last === undefined) return '';
  const [truth, shown] = [y(last.truth), y(last.shown)];
  const apart = Math.abs(truth - shown) < 16 ? 8 : 0;
  const up = truth <= shown ? -apart : apart;
  const name = (text: string, foot: number) =>
    `<text class="label" x="${width - margin.right + 4}" y="${px(foot + 4.5)}">${escapeMarkup(text)}</text>`;
  return name(names.truth, truth + up) + name(names.shown, shown - up);
}

/** Days beneath, as many as there is room for. */
function daysOf(tests: readonly PairedTest[], at: (i: number) => number, height: number): string {
  let free = 0;
  return tests
    .map(({ day }, i) => {
      const half = day.length * 3.6;
      if (at(i) - half < free) return '';
      free = at(i) + half + 8;
      return `<text class="tick" x="${at(i)}" y="${height - 10}" text-anchor="middle">${escapeMarkup(day)}</text>`;
    })
    .join('');
}
