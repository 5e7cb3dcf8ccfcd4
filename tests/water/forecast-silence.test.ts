import { describe, expect, test } from 'vitest';
import { quantities } from '../../seed/library.ts';
import { daysAfter } from '../../src/science/numeric/time.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';
import { type ForecastReading, forecastOf } from '../../src/water/system-page/forecast.rules.ts';

// Own figures; the course of a crash as a keeper reported it, days assumed.

const start = new Date('2026-11-01T08:00Z');
const dayZero = start.getTime() / 86_400_000;
const quantityOf = (code: string) => quantities().find((one) => one.code === code) as Quantity;
const rows = (
  values: readonly number[],
  every: number,
  more: Partial<ForecastReading> = {},
): ForecastReading[] =>
  values.map((value, i) => ({
    ...{ day: dayZero + i * every, value, u: 0.1, below: false, confirmed: false, step: null, kitId: null },
    ...more,
  }));
const forecast = (code: string, readings: readonly ForecastReading[], day: number) =>
  forecastOf(quantityOf(code), { readings, events: [], nitrate: null }, daysAfter(start, day), 7);

describe('a forecast', () => {
  const warm = Array.from({ length: 20 }, (_, i) => 25.1 + 0.1 * (i % 2));

  test.each([
    ['a probe that reports every ten minutes', rows(warm, 1, { everyDays: 10 / 1440 }), 19, 37 / 24],
    ['a thermometer read twice a day', rows(warm, 0.5), 9.5, 37 / 24],
    ['a thermometer read every day', rows(warm, 1), 19, 3],
  ])('ends where readings end: %s', (_, readings, last, silent) => {
    expect(forecast('temperature', readings, last + 0.05)).not.toBeNull();
    expect(forecast('temperature', readings, last + silent)).toBeNull();
  });

  test('is less sure the longer nothing was read', () => {
    const readings = rows(warm, 1);
    const width = (day: number) => {
      const [first] = forecast('temperature', readings, day)?.points ?? [];
      return (first?.high ?? 0) - (first?.low ?? 0);
    };
    expect(width(20.8)).toBeGreaterThan(width(19.1));
  });

  test.each([[[7.5, 6.8, 6.1, 5.35]], [[7.0, 5.8]], [[9.5, 10.3]]])(
    'starts where the last confirmed test stands: %j dKH',
    (falls) => {
      const dkh = (value: number) => value / 2.804;
      const calm = [8.3, 8.4, 8.2, 8.3, 8.4, 8.3, 8.2, 8.3, 8.3, 8.3];
      const readings = [...calm, ...falls].map((value, i) => ({
        ...{ day: dayZero + i, value: dkh(value), u: 0.07, below: false, step: null, kitId: null },
        confirmed: i >= calm.length,
      }));
      const points = forecast('alkalinity', readings, readings.length - 1 + 0.02)?.points ?? [];
      const last = dkh(falls.at(-1) ?? 0);
      expect(Math.abs((points[0]?.value ?? 0) - last)).toBeLessThan(0.08);
      if (falls.length > 3) {
        const perDay = ((points[3]?.value ?? 0) - (points[0]?.value ?? 0)) / 3;
        expect(perDay * 2.804).toBeLessThan(-0.5);
      }
    },
  );

  test.each([
    ['temperature', [25.2, 25.3, 25.2, 25.3, 25.2, 25.3], [28.9, 30.4], 1 / 6],
    ['temperature', [25.2, 25.3, 25.2, 25.3, 25.2, 25.3], [15.5, 15.6], 1 / 72],
    ['salinity', [35, 35.1, 35, 34.9, 35, 35], [32.4, 30.6], 0.25],
  ])('of %s that broke away within hours says nothing of next week: %j, %j', (code, calm, off, apart) => {
    const before = rows(calm, 1);
    const last = calm.length - 1;
    const readings = [
      ...before,
      ...off.map((value, i) => ({
        ...(before[0] as ForecastReading),
        ...{ day: dayZero + last + 0.3 + i * apart, value, confirmed: true },
      })),
    ];
    const ahead = forecast(code, readings, last + 0.31 + apart)?.points ?? [];
    expect(ahead.length).toBeLessThanOrEqual(2);
  });

  test('is not made while the newest test waits for its repeat', () => {
    const readings = rows(warm, 1);
    const doubted = { readings, events: [], nitrate: null, inDoubt: true };
    expect(forecastOf(quantityOf('temperature'), doubted, daysAfter(start, 19.1), 7)).toBeNull();
  });
});
