/** One result: when (ms), its value, its standard uncertainty, and whether it only bounds the level. */
interface ChartPoint {
  at: number;
  value: number;
  uncertainty: number;
  /** The level lay below what the test sees, or above its scale; null where it was read. */
  bound: 'below' | 'above' | null;
}

/** The last results of a test in the unit that is typed in, oldest first. */
export interface ChartSeries {
  points: readonly ChartPoint[];
  low: number | null;
  high: number | null;
}

/** Room around the drawing, px: for the scale at the left, the typed number at the right, days beneath. */
const edge = { left: 44, right: 72, top: 14, bottom: 26 };

/** Numbers to mark on a scale from `low` to `high`: at most 5, at 1, 2 or 5 times a power of ten. */
export function ticksBetween(low: number, high: number): number[] {
  const step = stepBetween(low, high);
  const first = Math.ceil(low / step - 1e-9);
  return Array.from({ length: Math.floor(high / step + 1e-9) - first + 1 }, (_, i) =>
    Number(((first + i) * step).toPrecision(10)),
  );
}

function stepBetween(low: number, high: number): number {
  const rough = (high - low) / 4;
  const power = 10 ** Math.floor(Math.log10(rough));
  return ([1, 2, 5].find((times) => times * power >= rough) ?? 10) * power;
}

/** What the scale spans: results with their errors, band and the typed number, a tenth more at either end; null without any. */
export function spanOf({ points, low, high }: ChartSeries, typed: number | null): [number, number] | null {
  const all = [
    ...points.flatMap(({ value, uncertainty }) => [value - uncertainty, value + uncertainty]),
    low,
    high,
    typed,
  ];
  const known = all.filter((value) => value !== null);
  if (known.length === 0) return null;
  const [least, most] = [Math.min(...known), Math.max(...known)];
  const more = (most - least || Math.abs(most) * 0.1 || 1) * 0.1;
  return [least - more, most + more];
}

/**
 * Draws the last results as dots with their standard uncertainty, the band behind them, and the typed number as a ring,
 * along the time up to `now` (ms). A result that only bounds the level is an open dot, with a line to where the level may lie.
 * SVG markup of the given size in px. `odd`: the number surprises; it is then joined to the last by a broken line.
 */
export function chartMarkup(
  series: ChartSeries,
  typed: { value: number; text: string; odd: boolean } | null,
  { width, height, decimals, now }: { width: number; height: number; decimals: number; now: number },
): string {
  const span = spanOf(series, typed?.value ?? null);
  if (span === null || width < 160 || height < 60) return '';
  const [least, most] = span;
  const bottom = height - edge.bottom;
  const y = (value: number) => round(edge.top + ((most - value) / (most - least)) * (bottom - edge.top));
  const right = width - edge.right;
  const { points } = series;
  const first = points[0]?.at ?? 0;
  const length = Math.max(now - first, 1);
  // The ring is now, and stands a little after a result of just now.
  const x = (at: number) => round(edge.left + 10 + ((at - first) / length) * (right - edge.left - 50));
  const band = bandMarkup(series, y, right, bottom);
  // Steps finer than the results are written: their numbers would else be rounded to others.
  const tickDecimals = Math.max(decimals, Math.ceil(-Math.log10(stepBetween(least, most)) - 1e-9));
  const scale = ticksBetween(least, most).map(
    (value) =>
      `<line class="grid" x1="${edge.left}" x2="${right}" y1="${y(value)}" y2="${y(value)}"/><text class="tick" x="${edge.left - 8}" y="${y(value) + 4}" text-anchor="end">${value.toFixed(tickDecimals)}</text>`,
  );
  const ends = ({ value, uncertainty, bound }: ChartPoint): [number, number] => {
    if (bound === null) return [y(value - uncertainty), y(value + uncertainty)];
    return [y(value), bound === 'below' ? bottom : edge.top];
  };
  const dots = points.map((point) => {
    const [from, to] = ends(point);
    const at = x(point.at);
    return `<line class="error" x1="${at}" x2="${at}" y1="${from}" y2="${to}"/><circle class="dot${point.bound === null ? '' : ' open'}" cx="${at}" cy="${y(point.value)}" r="4.5"/>`;
  });
  const last = points.at(-1);
  const ring =
    typed === null
      ? ''
      : `${typed.odd && last !== undefined ? `<line class="jump" x1="${x(last.at)}" y1="${y(last.value)}" x2="${right - 12}" y2="${y(typed.value)}"/>` : ''}<circle class="ring" cx="${right - 12}" cy="${y(typed.value)}" r="9"/><text class="typed" x="${right + 4}" y="${y(typed.value) + 5}">${typed.text.replace(/[<>&]/g, '')}</text>`;
  const days =
    points.length === 0
      ? ''
      : `<text class="tick" x="${edge.left}" y="${height - 6}">${dayWords(first)}</text><text class="tick" x="${right}" y="${height - 6}" text-anchor="end">now</text>`;
  return `<svg viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" class="last-tests${typed?.odd ? ' odd' : ''}" aria-hidden="true">${band}${scale.join('')}${dots.join('')}${ring}${days}</svg>`;
}

function bandMarkup(
  { low, high }: ChartSeries,
  y: (value: number) => number,
  right: number,
  bottom: number,
): string {
  if (low === null && high === null) return '';
  const top = high === null ? edge.top : y(high);
  const end = low === null ? bottom : y(low);
  return `<rect class="kept" x="${edge.left}" y="${top}" width="${right - edge.left}" height="${Math.max(1, end - top)}"/>`;
}

const round = (value: number) => Math.round(value * 10) / 10;

const dayWords = (at: number) => new Date(at).toLocaleDateString('en-GB', { day: 'numeric', month: 'short' });
