import { describe, expect, test } from 'vitest';
import { daysUntilTold, type Watching } from '../../src/science/control/told-after.ts';
import {
  alkalinitySlopeOptions,
  fallingLimit,
  probabilityOfLeaving,
  slopeOptions,
  trackSlope,
} from '../../src/science/filter/slope.ts';
import { type Random, seededRandom } from '../../src/science/statistics/random.ts';

const options = alkalinitySlopeOptions(1);
const falling = (every: number, sd: number): Watching => ({
  ...{ sd, options, band: { low: 7, high: Number.POSITIVE_INFINITY } },
  tells: { chance: fallingLimit(every, sd), ahead: 5 },
});
const clearly = (low: number, high: number, sd: number, swing: number): Watching => ({
  ...{ sd, options: slopeOptions(swing), band: { low, high } },
  tells: { chance: 0.933, ahead: 0 },
});

describe('the days until tests tell of a drift', () => {
  // Duncan 1956 (JASA 51, 228-242): a trouble that begins at any moment waits half an interval for the next test.
  test.each([1, 3.5, 7, 14])('are half an interval of %f days where one test tells all', (every) => {
    const told = daysUntilTold({ level: 8, perDay: -40 }, every, falling(every, 0.1));
    expect(told).toBeCloseTo(every / 2, 6);
  });

  // The simulation study in DEVELOPERS.md: falls of 0.1 dKH a day found in a median of 7 days (daily tests of 0.1 dKH), 8 with
  // tests of 0.2 dKH, 9 with three tests a week of 0.1 dKH.
  test.each([
    [1, 0.1, 7],
    [1, 0.2, 8],
    [7 / 3, 0.1, 9],
  ])('are near the study’s median for tests every %f days of %f dKH', (every, sd, median) => {
    const told = daysUntilTold({ level: 8.2, perDay: -0.1 }, every, falling(every, sd));
    expect(Math.abs((told ?? 0) - median)).toBeLessThan(2.6);
  });

  // The same filter on 300 seeded worlds with test errors, told on the median day of them.
  test.each([
    [-0.3, 1, 0.12],
    [-0.3, 3.5, 0.12],
    [-0.6, 7, 0.12],
  ])('of %f dKH a day, tests every %f days, lie near the middle of simulated delays', (perDay, every, sd) => {
    const watching = falling(every, sd);
    const random = seededRandom(17);
    const delays = Array.from({ length: 300 }, () =>
      simulated(random, { level: 8.2, perDay }, every, watching),
    );
    const middle = delays.sort((a, b) => a - b)[150] ?? 0;
    const told = daysUntilTold({ level: 8.2, perDay }, every, watching) ?? 0;
    expect(Math.abs(told - middle)).toBeLessThan(0.35 * every + 0.5);
  });

  test('grow with the interval and with the error of the tests', () => {
    const days = (every: number, sd: number) =>
      daysUntilTold({ level: 425, perDay: -3.6 }, every, clearly(380, 480, sd, 3)) ?? Number.NaN;
    const byInterval = [1, 3.5, 7, 14].map((every) => days(every, 9));
    expect(byInterval).toEqual([...byInterval].sort((a, b) => a - b));
    expect(days(7, 20)).toBeGreaterThan(days(7, 5));
    // It cannot be told before it is there: 45 mg/L at 3.6 a day take 12.5 days.
    expect(byInterval[0]).toBeGreaterThan(12.5);
  });

  test('are not known where there is no edge on that side', () => {
    expect(daysUntilTold({ level: 8.2, perDay: 0.1 }, 1, falling(1, 0.1))).toBeNull();
  });

  test('want an interval and an error that can be', () => {
    expect(() => daysUntilTold({ level: 8, perDay: -1 }, 0, falling(1, 0.1))).toThrow('interval');
    expect(() => daysUntilTold({ level: 8, perDay: -1 }, 1, { ...falling(1, 0.1), sd: 0 })).toThrow(
      'uncertainty',
    );
  });
});

/** One world: thirty steady tests, then the drift from a moment between two tests; each reading with its error. */
function simulated(
  random: Random,
  { level, perDay }: { level: number; perDay: number },
  every: number,
  { sd, band, tells }: Watching,
): number {
  const first = every * random.uniform();
  const tests = Array.from({ length: 30 }, (_, i) => ({
    ...{ day: first - (30 - i) * every, value: level + sd * random.normal(), sd },
  }));
  for (let n = 0; n < 60; n++) {
    const day = first + n * every;
    tests.push({ day, value: level + perDay * day + sd * random.normal(), sd });
    const track = trackSlope(tests, day, options);
    const isOff = track.history.at(-1)?.cut === true;
    if (isOff) Object.assign(tests.at(-1) ?? {}, { confirmed: true });
    const { now } = isOff ? trackSlope(tests, day, options) : track;
    const falls = now !== null && now.slope < 0;
    if (falls && probabilityOfLeaving(now, band, options, tells.ahead).below >= tells.chance) return day;
  }
  return Number.POSITIVE_INFINITY;
}
