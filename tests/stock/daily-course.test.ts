import { expect, test } from 'vitest';
import { dateAtDay, dayOf } from '../../src/science/numeric/time.ts';
import type { Care } from '../../src/stock/kinds/care.ts';
import { dailyCourse } from '../../src/stock/light/daily-course.rules.ts';
import type { Exposure } from '../../src/stock/light/exposure.rules.ts';

const first = 20_000;
const day = (n: number) => dateAtDay(first + n);
const exposure = (from: number, to: number | null, par: number, dli: number): Exposure => ({
  ...{ from: day(from), to: to === null ? null : day(to), par, parMax: par, dli, error: 1 },
  ...{ slotId: 's', rackId: 'r', estimated: false, hoursKnown: true },
});

// Ten days under 2 mol/m² a day, two days off the rack, then 4 mol/m² a day.
const exposures = [exposure(0, 10, 60, 2), exposure(12, null, 120, 4)];
const figure = (high: number) => ({
  low: null,
  high,
  words: null,
  basis: 'own_choice',
  source: '',
  from: 'lot',
});
const care = (figures: Record<string, number>): Care =>
  Object.fromEntries(Object.entries(figures).map(([name, high]) => [name, figure(high)])) as unknown as Care;

function course(figures: Record<string, number> = {}, from = -100) {
  const light = { exposures, now: exposures[1] ?? null, accustomed: null, arrival: null };
  return dailyCourse(light, care(figures), day(from), day(14.5)).map(({ at, ...rest }) => ({
    ...rest,
    at: dayOf(at) - first,
  }));
}

test('the course begins with the first known light and ends now, with a moment for each day', () => {
  expect(course().map(({ at }) => at)).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 14.5]);
  expect(course({}, 9.5).map(({ at }) => at)).toEqual([9.5, 10, 10.5, 11.5, 12, 12.5, 13.5, 14.5]);
});

test('a lot off its rack receives no known light', () => {
  expect(course().map(({ received }) => received)).toEqual([
    ...[2, 2, 2, 2, 2, 2, 2, 2, 2, 2],
    ...[null, null],
    ...[4, 4, 4, 4],
  ]);
});

test('a lot becomes accustomed to other light by first-order adaptation with its time constant', () => {
  const at = (days: number, figures = {}) => course(figures).find((moment) => moment.at === days)?.accustomed;
  expect(at(12)).toBeCloseTo(2, 9);
  expect(at(14.5, { adaptation_days: 5 })).toBeCloseTo(4 - 2 * Math.exp(-2.5 / 5), 9);
  // Ten days where the kind states none.
  expect(at(14.5)).toBeCloseTo(4 - 2 * Math.exp(-2.5 / 10), 9);
});

test.each<[string, Record<string, number>, number | null, number | null]>([
  ['nothing where neither is stated', {}, null, null],
  ['the step from what it is accustomed to', { step_ratio: 1.2 }, 2.4, 1.2 * (4 - 2 * Math.exp(-0.25))],
  // A ceiling of 50 umol/(m2 s) where 60 give 2 mol/m² a day, and 120 give 4.
  ['the ceiling as daily light', { par_ceiling: 50 }, 50 / 30, 50 / 30],
  ['the lower of the two', { step_ratio: 1.2, par_ceiling: 75 }, 2.4, 2.5],
])('the light a lot tolerates is %s', (_, figures, atFirst, now) => {
  const moments = course(figures);
  const limit = (value: number | null | undefined) => (value == null ? value : Number(value.toFixed(9)));
  expect(limit(moments[0]?.tolerated)).toEqual(limit(atFirst));
  expect(limit(moments.at(-1)?.tolerated)).toEqual(limit(now));
});

test('a lot whose light was never known has no course', () => {
  const dark = { exposures: [], now: null, accustomed: null, arrival: null };
  expect(dailyCourse(dark, {}, day(0), day(5))).toEqual([]);
});
