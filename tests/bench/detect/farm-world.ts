import { seededRandom } from '../../../src/science/statistics/random.ts';
import type { KeptFact, KitFact, ReadingFact, SystemFacts } from '../../../src/watch/facts/types.ts';
import { dkh, dose, knownOn, useWorld } from '../../watch/demand-worlds.ts';
import { blankKit, dayZero, madeId, onDay, reading } from '../../watch/facts.ts';
import { alkalinityWorld } from './alkalinity-world.ts';
import { kitDays, testDays, wandering } from './world.ts';

const kitsDiffer = 0.03;
const band = (bandLow: number, bandHigh: number, makeUp: number | null = null): KeptFact => ({
  bandLow,
  bandHigh,
  limitHigh: null,
  makeUp,
  source: 'made for the bench',
});

/** What is read besides alkalinity and calcium: level, SD of its own wandering over 30 days, of a test, and slips. */
const others = [
  { code: 'magnesium', habit: '2-weekly', level: 1350, wander: 15, u: 25, slip: 120 },
  { code: 'phosphate', habit: 'weekly', level: 0.08, wander: 0.01, u: 0.01, slip: 0.05 },
  { code: 'salinity', habit: '2 a week', level: 35, wander: 0.15, u: 0.2, slip: 1 },
  { code: 'temperature', habit: 'daily', level: 25.5, wander: 0.2, u: 0.1, slip: 0 },
] as const;

/** A trouble from its onset on: the swing times `factor`, alkalinity falling a day in dKH, nitrate made besides a day in mg/L. */
interface Begun {
  onset: number;
  factor?: number;
  fall?: number;
  nitrate?: number;
}

/**
 * A whole system in control: alkalinity tested daily and dosed, calcium and nitrate weekly, magnesium, phosphate,
 * salinity and temperature at usual habits and errors; slips, weekly changes of which a tenth is not logged, kits that
 * differ by 1.5 to 3 % and are checked against a standard when opened and every four weeks.
 */
export function farmWorld(days: number, seed: number, trouble: Begun = { onset: days }): SystemFacts {
  const random = seededRandom(seed + 500_000);
  const used = useWorld({ seed, days });
  const readings = new Map(used.readings);
  const { onset, factor = 1, fall = 0 } = trouble;
  readings.set(
    'alkalinity',
    alkalinityWorld({ ...heldAlkalinity, days, onset, factor, fall }, seed).readings,
  );
  readings.set('nitrate', nitrate(used, days, random, trouble));
  for (const { code, habit, level, wander, u, slip } of others) {
    const drift = wandering(random, 30);
    const tests = new Set(testDays(habit, days, random, { missed: 0.05, irregular: true }));
    const all = Array.from({ length: days }, (_, day) => {
      const now = level + wander * drift();
      const off = random.uniform() < 0.01 ? (random.uniform() < 0.5 ? -slip : slip) : 0;
      return tests.has(day) ? reading(day + 0.35, now + off + u * random.normal(), u) : null;
    });
    readings.set(
      code,
      all.filter((one) => one !== null),
    );
  }
  const doses = [
    ...used.doses.filter(({ quantityCode }) => quantityCode !== 'alkalinity'),
    ...Array.from({ length: days }, (_, day) =>
      dose(day + 0.4, 'alkalinity', usedDaily * dkh * (1 + 0.05 * random.normal())),
    ),
  ].sort((a, b) => a.day - b.day);
  return { ...used, readings, doses, kept: bands };
}

const bands: SystemFacts['kept'] = new Map([
  ['alkalinity', band(7 * dkh, 9.6 * dkh, 8.2 * dkh)],
  ['calcium', band(380, 470, 440)],
  ['magnesium', band(1200, 1500)],
  ['nitrate', { ...band(2, 20, 0.5), limitHigh: 30 }],
  ['phosphate', band(0.02, 0.15)],
  ['salinity', band(34, 36)],
  ['temperature', band(24, 27)],
]);

/** Held where it is by a daily dose of what is used, dKH. */
const usedDaily = 0.4;
const heldAlkalinity = {
  habit: 'daily',
  testSd: 0.1,
  swing: 0.1,
  wander: 0.15,
  repeated: true,
  kitSd: kitsDiffer / 2,
} as const;
const usualNitrate = 8;

/** As in the worlds of the creep's rule, with the changes of this one. */
function nitrate(
  used: SystemFacts,
  days: number,
  random: ReturnType<typeof seededRandom>,
  { onset, nitrate: added = 0 }: Begun,
): ReadingFact[] {
  const tests = new Set(testDays('weekly', days, random, { missed: 0.05, irregular: true }));
  const opened = new Set(kitDays(days, random));
  const wander = wandering(random, 30);
  const logged = new Map(used.changes.map(({ day, fraction }) => [Math.floor(day - dayZero), fraction]));
  const production = (usualNitrate - 0.5) / (7 * (1 / 0.125 - 0.5));
  const readings: ReadingFact[] = [];
  let [level, kit, bias] = [usualNitrate, '', 0];
  for (let day = 0; day < days; day++) {
    level += production * (1 + 0.15 * wander()) + (day >= onset ? added : 0);
    if (opened.has(day)) [kit, bias] = [madeId(), random.uniform() < 0.5 ? -kitsDiffer : kitsDiffer];
    if (tests.has(day)) {
      const slip = random.uniform() < 0.02 ? 2 ** (2 * random.uniform() - 1) : 1;
      const value = level * (1 + bias) * slip * Math.exp(0.1 * random.normal());
      readings.push(reading(day + 0.35, value, 0.1 * value, { kitId: kit }));
    }
    const fraction = logged.get(day) ?? (day % 7 === 3 ? 0.125 : 0);
    level += (0.5 - level) * fraction;
  }
  return readings;
}

/** What the farm knows on a day, with the kits in use then. */
export function farmOn(world: SystemFacts, day: number): SystemFacts {
  const known = knownOn(world, day);
  const recent = <T extends { day: number }>(all: readonly T[]) =>
    all.filter((one) => one.day > dayZero + day - historyDays);
  const readings = new Map([...known.readings].map(([code, all]) => [code, recent(all)]));
  const temperatures = (readings.get('temperature') ?? [])
    .filter((one) => one.day > dayZero + day - 120)
    .map((one) => ({ day: Math.floor(one.day), mean: one.value }));
  return {
    ...known,
    readings,
    temperatures,
    changes: recent(known.changes),
    doses: recent(known.doses),
    kits: ['alkalinity', 'nitrate'].flatMap((code) =>
      kitsInUse(code, readings.get(code) ?? [], dayZero + day),
    ),
  };
}

const historyDays = 400;

/** The kit of the last reading; those before it were put away. */
export function kitsInUse(code: string, readings: readonly ReadingFact[], checkedUntil?: number): KitFact[] {
  const id = readings.at(-1)?.kitId ?? null;
  const first = readings.find(({ kitId }) => kitId === id);
  if (id === null || first === undefined) return [];
  const used = { systemId: first.systemId, name: 'Long run', firstDay: first.day };
  return [
    blankKit({
      id,
      quantityCode: code,
      openedDay: first.day,
      openedAt: first.at,
      checks: checkedUntil === undefined ? [] : checksOf(id, first, checkedUntil),
      systems: [{ ...used, readings: [...readings] }],
    }),
  ];
}

const checkEvery = 28;

/** In duplicate when it was opened and every four weeks, of a standard that the kit reads with the error of its tests. */
function checksOf(kitId: string, { day: opened, value: standard, u }: ReadingFact, until: number) {
  const random = seededRandom(Math.round(100 * (opened + standard)));
  const bias = (kitsDiffer / 2) * random.normal();
  const checks: KitFact['checks'] = [];
  for (let day = opened; day <= until; day += checkEvery) {
    for (const value of [random.normal(), random.normal()])
      checks.push({
        id: `${kitId} ${day} ${value}`,
        day,
        at: onDay(day - dayZero).toISOString(),
        standard,
        value: standard * (1 + bias) + u * value,
        u,
      });
  }
  return checks;
}
