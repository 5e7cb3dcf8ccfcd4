import { seededRandom } from '../../src/science/statistics/random.ts';
import { convert, convertDifference } from '../../src/science/units/convert.ts';
import type { KeptFact, ReadingFact, SystemFacts } from '../../src/watch/facts/types.ts';
import { wandering } from '../bench/detect/world.ts';
import { blankSystem, dayZero, reading } from './facts.ts';

const dkh = (value: number) => convert('alkalinity', value, 'dKH', 'meq/L');
const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');

/** Usual level, how it wanders over 20 days and swings from day to day, the test's error, days between tests, band. */
interface Habit {
  usual: number;
  wander: number;
  swing: number;
  u: number;
  gap: number;
  band: [number | null, number | null];
}

/** Ordinary water of a mixed farm (common practice; wandering and swings own choice). */
const habits: Readonly<Record<string, Habit>> = {
  alkalinity: {
    usual: dkh(8.2),
    wander: 0.15 * perDkh,
    swing: 0.12 * perDkh,
    u: 0.2 * perDkh,
    gap: 1,
    band: [dkh(7), dkh(10)],
  },
  calcium: { usual: 420, wander: 6, swing: 3, u: 10, gap: 7, band: [380, 450] },
  magnesium: { usual: 1310, wander: 12, swing: 6, u: 20, gap: 7, band: [1230, 1400] },
  salinity: { usual: 35, wander: 0.2, swing: 0.1, u: 0.3, gap: 1, band: [34, 36] },
  temperature: { usual: 25.8, wander: 0.3, swing: 0.2, u: 0.2, gap: 1, band: [24.4, 28.3] },
  ph: { usual: 8.1, wander: 0.05, swing: 0.05, u: 0.05, gap: 2, band: [7.8, 8.5] },
  phosphate: { usual: 0.05, wander: 0.008, swing: 0.003, u: 0.015, gap: 7, band: [null, 0.1] },
  nitrate: { usual: 8, wander: 0.8, swing: 0.2, u: 0.8, gap: 7, band: [1, 25] },
  ammonia: { usual: 0.02, wander: 0.003, swing: 0.002, u: 0.02, gap: 14, band: [null, 0.1] },
};

const keptOf = ({ band: [bandLow, bandHigh] }: Habit): KeptFact => ({
  bandLow,
  bandHigh,
  limitHigh: null,
  makeUp: null,
  source: 'made for the tests',
});

/** Bands of such water. */
export const calmBands = new Map(Object.entries(habits).map(([code, habit]) => [code, keptOf(habit)]));

/**
 * A system in which nothing happens for `days`: every quantity wanders and swings as usual, one test in a hundred slips
 * by 5 SD and nobody repeats it.
 */
export function calmWater(seed: number, days: number): SystemFacts {
  const random = seededRandom(seed);
  const readings = new Map<string, ReadingFact[]>();
  for (const [code, { usual, wander, swing, u, gap }] of Object.entries(habits)) {
    const slow = wandering(random, 20);
    const own: ReadingFact[] = [];
    for (let day = 0; day < days; day++) {
      const level = usual + wander * slow() + swing * random.normal();
      if (day % gap !== 0) continue;
      const slip = random.uniform() < 0.01 ? 5 * u * Math.sign(random.normal()) : 0;
      own.push(reading(day + 0.35, Math.max(0.001, level + slip + u * random.normal()), u));
    }
    readings.set(code, own);
  }
  const temperatures = (readings.get('temperature') ?? []).map(({ day, value }) => ({
    day: Math.floor(day),
    mean: value,
  }));
  return blankSystem({ kept: calmBands, readings, temperatures });
}

/** What was known of a system on a day. */
export function knownOn(facts: SystemFacts, day: number): SystemFacts {
  const until = dayZero + day;
  const readings = [...facts.readings].map(
    ([code, own]) => [code, own.filter((one) => one.day <= until && one.day > until - 400)] as const,
  );
  const temperatures = facts.temperatures.filter((one) => one.day < until && one.day > until - 120);
  return { ...facts, readings: new Map(readings), temperatures };
}
