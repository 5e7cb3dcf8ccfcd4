import { describe, expect, test } from 'vitest';
import { columnSpan, middleOf, usualBand, type WallPoint } from '../../src/water/overview/wall.rules.ts';
import { wallChart } from '../../src/water/overview/wall-chart.ts';

const now = new Date('2026-11-24T12:00:00Z');
const daily = (values: readonly number[]): WallPoint[] =>
  values.map((value, i) => ({
    at: new Date(now.getTime() - (values.length - 1 - i) * 86_400_000),
    value,
    unconfirmed: false,
  }));

describe('what is usual for a water', () => {
  test('is where nine of ten tests lay before the last fortnight', () => {
    const band = usualBand(
      daily([...Array.from({ length: 21 }, (_, i) => 100 + i), ...Array(15).fill(500)]),
      now,
    );
    expect(band).toEqual({ low: 101, high: 119 });
  });
  test('cannot be said with fewer than six tests, or with those of the last fortnight alone', () => {
    expect(usualBand(daily(Array(14).fill(8)), now)).toBeNull();
    expect(usualBand([], now)).toBeNull();
  });
  test('leaves unconfirmed tests out', () => {
    const odd = daily(Array(40).fill(8)).map((point, i) =>
      i < 3 ? { ...point, value: 20, unconfirmed: true } : point,
    );
    expect(usualBand(odd, now)).toEqual({ low: 8, high: 8 });
  });
});

describe('the height of a column', () => {
  test('is one for all, set by the trace that moves most', () => {
    expect(columnSpan([daily([8, 8.1, 8]), daily([8, 9, 8])], 0.5)).toBeCloseTo(2.1);
  });
  test('is never so small that the error of a test looks like trouble', () => {
    expect(columnSpan([daily([8, 8, 8]), []], 0.6)).toBe(0.6);
  });
  test('is taken around what most confirmed tests lie at', () => {
    expect(middleOf([...daily([8, 8, 8]), { at: now, value: 30, unconfirmed: true }])).toBe(8);
    expect(middleOf([])).toBeNull();
  });
});

describe('a chart of the wall', () => {
  const chart = { from: new Date('2026-09-25T12:00:00Z'), to: now, usual: null, span: 2, oddSince: null };
  test('is grey while nothing is wrong, and washed since an alert is open', () => {
    const quiet = wallChart({ ...chart, points: daily([8, 8.1]), severity: null });
    expect(quiet).toContain('class="chart wall-chart"');
    expect(quiet).not.toContain('wash');
    const odd = wallChart({
      ...chart,
      points: daily([8, 8.1]),
      severity: 'now',
      oddSince: new Date('2026-10-25T12:00:00Z'),
    });
    expect(odd).toContain('class="chart wall-chart odd"');
    expect(odd).toMatch(/class="wash now" x="58" y="0" width="62"/);
  });
  test('shows a last test that is not confirmed as hollow, and stays inside its frame', () => {
    const points = [...daily([8, 8, 8]), { at: now, value: 30, unconfirmed: true }];
    const drawn = wallChart({ ...chart, points, severity: null });
    expect(drawn).toContain('class="point unconfirmed"');
    expect(drawn).toMatch(/cy="4"/);
  });
});
