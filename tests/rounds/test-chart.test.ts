import { describe, expect, test } from 'vitest';
import { type ChartSeries, chartMarkup, ticksBetween } from '../../src/browser/round/test-chart.ts';

const day = 86_400_000;
const now = Date.parse('2026-11-24T08:00:00Z');
const point = (daysAgo: number, value: number, bound: 'below' | 'above' | null = null) => ({
  at: now - daysAgo * day,
  ...{ value, uncertainty: 0.1, bound },
});
const size = { width: 500, height: 300, decimals: 1, now };
const draw = (points: ChartSeries['points']) => chartMarkup({ points, low: 7, high: 9 }, null, size);
const placesOf = (markup: string) =>
  [...markup.matchAll(/class="dot[^"]*" cx="([^"]+)"/g)].map(([, x]) => Number(x));

describe('the last results of a test', () => {
  test('stand as far apart as they lie in time, up to now', () => {
    const [first = 0, second = 0, last = 0] = placesOf(draw([point(40, 8), point(30, 8), point(20, 8)]));
    expect(second - first).toBeCloseTo(last - second, 0);
    // From the first to the last as far as from the last to now: an old result does not stand beside the typed one.
    const beside = placesOf(draw([point(40, 8), point(0, 8)])).at(-1) ?? 0;
    expect(beside - last).toBeCloseTo(last - first, 0);
  });

  test('below or beyond what a test sees are open, with a line to where they may lie', () => {
    const markup = draw([point(2, 8, 'below'), point(1, 8, 'above'), point(0, 8)]);
    expect(markup.match(/class="dot open"/g)).toHaveLength(2);
    const lines = [...markup.matchAll(/class="error"[^>]* y1="([^"]+)" y2="([^"]+)"/g)];
    expect(lines.map(([, from, to]) => [Number(from), Number(to)]).slice(0, 2)).toEqual([
      [expect.any(Number), 274],
      [expect.any(Number), 14],
    ]);
  });

  test.each([
    [8.31, 8.34, 1],
    [420, 421, 0],
    [0.02, 0.2, 2],
    [7, 9, 1],
  ])('of %f to %f are marked by numbers that differ, as they are', (low, high, decimals) => {
    const points = [
      { at: now - day, value: low, uncertainty: 0, bound: null },
      { at: now, value: high, uncertainty: 0, bound: null },
    ];
    const markup = chartMarkup({ points, low: null, high: null }, null, { ...size, decimals });
    const said = [...markup.matchAll(/text-anchor="end">(-?[\d.]+)</g)].map(([, text]) => Number(text));
    expect(said).toEqual(ticksBetween(low - (high - low) * 0.1, high + (high - low) * 0.1));
    expect(said.length).toBeGreaterThanOrEqual(2);
  });
});
