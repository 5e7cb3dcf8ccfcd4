import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import { convert, convertDifference } from '../../../src/science/units/convert.ts';
import type { ReadingFact } from '../../../src/watch/facts/types.ts';
import type { StoredReading, TrustContext } from '../../../src/water/trust/measured.ts';
import { judgeReading } from '../../../src/water/trust/trust.rules.ts';
import { blankSystem, dayZero, onDay, reading } from '../../watch/facts.ts';
import { type Habit, kitDays, type Logged, testDays, wandering } from './world.ts';

export interface AlkalinityPlan {
  habit: Habit;
  /** SD of the test, dKH. */
  testSd: number;
  /** Usual SD of the water, dKH. */
  swing: number;
  /** What the swing is multiplied by from the onset; 1 for none. */
  factor: number;
  /** Fall from the onset, dKH a day. */
  fall: number;
  /** SD by which the level wanders by itself over 20 days, dKH. */
  wander: number;
  /** SD by which kits differ, relative, a new one every 60 to 120 days; one kit for all when left out. */
  kitSd?: number;
  /** Whether every reading that surprises the service is tested again at once. */
  repeated: boolean;
  days: number;
  onset: number;
}

const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
const dkh = 8.2;
const usual = convert('alkalinity', dkh, 'dKH', 'meq/L');

/** Alkalinity around 8.2 dKH: AR(1) of 0.6 a day; tests with 1 % slips of 0.5 to 1.5 dKH, 5 % missed. */
export function alkalinityWorld(plan: AlkalinityPlan, seed: number): Logged {
  const random = seededRandom(seed);
  const tests = new Set(testDays(plan.habit, plan.days, random, { missed: 0.05, irregular: false }));
  const wander = wandering(random, 20);
  const kits = new Set(plan.kitSd === undefined ? [] : kitDays(plan.days, random));
  let kit = { id: '', bias: 0 };
  const readings: ReadingFact[] = [];
  let shape = random.normal();
  for (let day = 0; day < plan.days; day++) {
    shape = 0.6 * shape + 0.8 * random.normal();
    if (kits.has(day)) kit = { id: `kit ${day}`, bias: (plan.kitSd ?? 0) * random.normal() };
    const since = Math.max(0, day - plan.onset);
    const factor = day >= plan.onset ? plan.factor : 1;
    const level = plan.swing * factor * shape + plan.wander * wander() - plan.fall * since;
    if (!tests.has(day)) continue;
    const read = (at: number) => test(plan, at, level + kit.bias * (dkh + level), kit.id || null, random);
    if (plan.repeated) readUntilSure(readings, day, read);
    else readings.push(read(day));
  }
  return { code: 'alkalinity', readings, changes: [], doses: [], makeUp: 0 };
}

/** Drops of 0.28 dKH where the test is as coarse as that. */
const dropFrom = 0.25;
const drop = 0.28;

function test(
  { testSd }: AlkalinityPlan,
  day: number,
  level: number,
  kitId: string | null,
  random: Random,
): ReadingFact {
  const slip = random.uniform() < 0.01 ? (random.uniform() < 0.5 ? -1 : 1) * (0.5 + random.uniform()) : 0;
  const off = level + slip + testSd * random.normal();
  const shown = testSd > dropFrom ? Math.round((dkh + off) / drop) * drop - dkh : off;
  return reading(day, usual + shown * perDkh, testSd * perDkh, {
    step: testSd > dropFrom ? drop * perDkh : null,
    kitId,
  });
}

const minutesApart = 15;
const mostRepeats = 2;
const readingsBack = 30;
const quantity = blankSystem().quantities.get('alkalinity') as TrustContext['quantity'];

/** Tests, and again while the service's own rules of trust ask for it; what is refuted is not kept. */
function readUntilSure(readings: ReadingFact[], day: number, read: (at: number) => ReadingFact): void {
  for (let repeat = 0; repeat <= mostRepeats; repeat++) {
    const one = read(day + (repeat * minutesApart) / 1440);
    const recent = readings.slice(-readingsBack);
    const { trust, settles } = judgeReading(kept(one), {
      quantity,
      band: { low: null, high: null },
      past: recent.filter((r) => r.trust !== 'unconfirmed').map(kept),
      pending: recent.filter((r) => r.trust === 'unconfirmed').map(kept),
      later: [],
      expectedChange: 0,
    });
    for (const { id, trust: settled } of settles) {
      const at = readings.findIndex((r) => r.id === id);
      const waited = readings[at];
      if (waited === undefined) continue;
      if (settled === 'refuted') readings.splice(at, 1);
      else readings[at] = { ...waited, trust: settled };
    }
    readings.push({ ...one, trust });
    if (trust !== 'unconfirmed') return;
  }
}

const kept = ({ id, day, value, below, u, kitId }: ReadingFact): StoredReading => ({
  id,
  at: onDay(day - dayZero),
  value,
  below,
  uncertainty: u,
  kitId,
  methodId: null,
});
