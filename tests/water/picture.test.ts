import { describe, expect, test } from 'vitest';
import { quantities } from '../../seed/library.ts';
import { type ChartPoint, timeChart } from '../../src/platform/charts/time-chart.ts';
import { trackNitrate } from '../../src/science/filter/nitrate.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';
import { grainFor } from '../../src/water/readings/sources.ts';
import {
  type ForecastReading,
  forecastOf,
  forecastWords,
} from '../../src/water/system-page/forecast.rules.ts';

const quantity = (code: string) => quantities().find((one) => one.code === code) as Quantity;
const now = new Date('2026-11-24T08:00Z');
const today = now.getTime() / 86_400_000;
const count = (svg: string, part: string) => svg.split(part).length - 1;

/** Readings every so many days up to today, by a function of the days before it. */
function series(days: number, every: number, value: (ago: number) => number, u: number): ForecastReading[] {
  return Array.from({ length: Math.floor(days / every) }, (_, i) => {
    const ago = days - (i + 1) * every;
    return {
      day: today - ago,
      value: value(ago),
      u,
      below: false,
      confirmed: false,
      step: null,
      kitId: null,
    };
  });
}

describe('how finely a source is shown', () => {
  test('every reading where they are few, else hours, days or weeks: never more than two hundred points', () => {
    expect(grainFor(180, 90)).toBe('reading');
    expect(grainFor(1008, 7)).toBe('hour');
    expect(grainFor(4320, 30)).toBe('day');
    expect(grainFor(1095, 1095)).toBe('week');
    for (const days of [7, 30, 90, 365, 1095])
      for (const perDay of [0.5, 1, 4, 144]) {
        const grain = grainFor(days * perDay, days);
        const points = grain === 'reading' ? days * perDay : days / { hour: 1 / 24, day: 1, week: 7 }[grain];
        expect(points).toBeLessThanOrEqual(200);
      }
  });
});

describe('a forecast', () => {
  const steady = { events: [], nitrate: null };

  test('of a level that stands is flat, its interval widens and holds it', () => {
    const readings = series(60, 1, (ago) => 3 + 0.03 * Math.sin(ago * 1.7), 0.07);
    const forecast = forecastOf(quantity('alkalinity'), { readings, ...steady }, now, 14);
    const [first, last] = [forecast?.points[0], forecast?.points.at(-1)];
    expect(forecast?.by).toBe('trend');
    expect(last?.value).toBeCloseTo(3, 1);
    expect((last?.high ?? 0) - (last?.low ?? 0)).toBeGreaterThan((first?.high ?? 0) - (first?.low ?? 0));
    expect(last?.low).toBeLessThan(3);
    expect(last?.high).toBeGreaterThan(3);
  });

  test('of a falling level says when it would leave the band', () => {
    const readings = series(30, 1, (ago) => 2.8 + 0.03 * ago, 0.036);
    const forecast = forecastOf(quantity('alkalinity'), { readings, ...steady }, now, 14);
    const kept = { bandLow: 2.65, bandHigh: 3.6, limitHigh: null };
    const words = forecastWords(quantity('alkalinity'), forecast, kept, 'UTC');
    expect(words).toMatch(/^If it goes on like this it is at \d\.\d dKH on 8 Dec 2026; 90 % likely from /);
    // Falling on by 0.03 a day from 2.8 it would reach 2.65 on 29 Nov; a forecast lets the slope fade, so a few days later.
    expect(words).toMatch(
      /It would pass the lower end of the band about (29 Nov|30 Nov|1 Dec|2 Dec|3 Dec) 2026\./,
    );
  });

  test('after a change of habits begins at the level, with the slope of before forgotten', () => {
    const falls = (ago: number) => 2.6 + 0.06 * Math.max(0, ago - 6);
    const readings = series(40, 1, falls, 0.036);
    const ahead = (events: { day: number }[]) =>
      forecastOf(quantity('alkalinity'), { readings, ...steady, events }, now, 7)?.points ?? [];
    expect(ahead([{ day: today - 6.2 }])[0]?.value).toBeCloseTo(2.6, 1);
    expect(ahead([{ day: today - 6.2 }]).at(-1)?.value).toBeGreaterThan(2.57);
    expect(ahead([]).at(-1)?.value).toBeLessThan(ahead([{ day: today - 6.2 }]).at(-1)?.value ?? 0);
    // Two tests since it changed tell no slope.
    expect(ahead([{ day: today - 1.5 }])).toEqual([]);
  });

  test('of nitrate goes by production and the habit of changes', () => {
    const changes = Array.from({ length: 25 }, (_, i) => ({
      day: today - 7 * (25 - i) + 0.1,
      fraction: 0.12,
      makeUp: 0,
    }));
    const readings = series(175, 3.5, () => 8, 0.8);
    const tests = readings.map(({ day, value, u }) => ({ day, value, relativeSd: u / value }));
    const { now: nitrate } = trackNitrate({ readings: tests, changes }, today);
    const forecast = forecastOf(quantity('nitrate'), { readings, events: [], nitrate }, now, 60);
    expect(forecast?.by).toBe('habit');
    expect(forecast?.points).toHaveLength(61);
    expect(forecast?.points.at(-1)?.value).toBeGreaterThan(6);
    expect(forecast?.points.at(-1)?.value).toBeLessThan(10.5);
  });

  test('is not made from too few, too old or undetected readings', () => {
    const of = (readings: ForecastReading[]) =>
      forecastOf(quantity('phosphate'), { readings, ...steady }, now, 14);
    expect(of([])).toBeNull();
    expect(of(series(12, 4, () => 0.05, 0.012))).toBeNull();
    expect(of(series(60, 4, () => 0.05, 0.012).map((one) => ({ ...one, day: one.day - 30 })))).toBeNull();
    expect(of(series(60, 4, () => 0.02, 0.012).map((one) => ({ ...one, below: true })))).toBeNull();
  });
});

describe('the marks of a chart', () => {
  const at = (ago: number) => new Date(now.getTime() - ago * 86_400_000);
  const point = (ago: number, kind: ChartPoint['kind'], more: Partial<ChartPoint> = {}): ChartPoint => ({
    at: at(ago),
    value: 8,
    error: 0.5,
    kind,
    ...more,
  });
  const chart = { label: 'x', from: at(30), to: at(-10), timeZone: 'UTC' };

  test('set confirmed, refuted, corrected and aggregated points apart', () => {
    const svg = timeChart({
      ...chart,
      points: [
        point(9, 'confirmed'),
        point(8, 'refuted'),
        point(7, 'plain', { asRead: 7.2 }),
        point(6, 'plain', { error: 0, range: [7, 9] }),
      ],
    });
    expect(count(svg, 'class="point ring"')).toBe(1);
    expect(svg).toMatch(/class="point voided" d="M[^"]*l[^"]*m0/);
    expect(count(svg, 'class="as-read"')).toBe(1);
    expect(count(svg, 'class="bar"')).toBe(3);
  });

  test('draw each laboratory as a line of its own, named, and never one line through two', () => {
    const lines = ['Ostlab', 'Werd & Sons'].map((name, i) => ({
      name,
      points: [20, 10, 1].map((ago) => point(ago, 'plain', { value: 8 + i })),
    }));
    const svg = timeChart({ ...chart, points: [], lines });
    expect(count(svg, 'class="line series-2"')).toBe(2);
    expect(svg).toContain('Werd &amp; Sons');
  });

  test('draw the forecast behind a line for now, with its interval', () => {
    const points = [0, 5, 10].map((ahead) => ({ at: at(-ahead), value: 8 + ahead / 10, low: 7, high: 10 }));
    const svg = timeChart({ ...chart, points: [point(5, 'plain')], ahead: { now, points } });
    expect(count(svg, 'class="forecast-band"')).toBe(1);
    expect(count(svg, 'class="forecast"')).toBe(1);
    expect(svg).not.toContain('NaN');
  });
});
