import { seededRandom } from '../../../src/science/statistics/random.ts';
import { reading, waterChange } from '../../watch/facts.ts';
import { type Habit, kitDays, type Logged, testDays, wandering } from './world.ts';

export interface NitratePlan {
  habit: Habit;
  /** Relative standard uncertainty of the test. */
  relativeSd: number;
  /** Read off a chart of 0, 2, 5, 10, 15, 20, 30, 40, 50 mg/L. */
  chart: boolean;
  /** SD by which production wanders by itself over 30 days, relative. */
  wander: number;
  trouble: 'none' | 'step' | 'ramp' | 'stop';
  /** A tenth of the changes is logged with another volume, a second tester reads higher, one bottle in five is not told of. */
  rough?: boolean;
  days: number;
  onset: number;
}

const chart = [0, 2, 5, 10, 15, 20, 30, 40, 50];
/** The second tester reads so much higher, and makes so many of the tests; one in so many bottles is not told of. */
const second = { bias: 0.08, share: 0.4 };
const untold = 0.2;
/** First rise by the trouble, mg/L a week. */
const rise = 1;

/**
 * Weekly changes of 10 to 15 % on the day before or after at times, a tenth not logged; level 8 mg/L; log-normal test
 * error with 2 % slips; a new kit every 60 to 120 days that reads 8 % high or low.
 */
export function nitrateWorld(plan: NitratePlan, seed: number): Logged {
  const random = seededRandom(seed);
  const base = 8 * (1 + 0.1 * random.normal());
  const makeUp = random.uniform();
  const production = (base - makeUp) / (7 * (1 / 0.125 - 0.5));
  const tests = new Set(testDays(plan.habit, plan.days, random, { missed: 0.05, irregular: true }));
  const kits = new Set(kitDays(plan.days, random));
  const wander = wandering(random, 30);
  const world: Logged = { code: 'nitrate', readings: [], changes: [], doses: [], makeUp };
  let [level, nextChange, kit, bias] = [base, random.below(7), 0, 0];
  for (let day = 0; day < plan.days; day++) {
    const since = day - plan.onset;
    level += production * (1 + plan.wander * wander()) + added(plan, since);
    if (kits.has(day)) {
      if (!plan.rough || random.uniform() >= untold) kit += 1;
      bias = random.uniform() < 0.5 ? 0.08 : -0.08;
    }
    if (tests.has(day)) {
      const hand = plan.rough && random.uniform() < second.share ? second.bias : 0;
      world.readings.push(test(plan, day, level * (1 + bias) * (1 + hand), kit, random));
    }
    if (day >= nextChange) {
      nextChange += 6 + random.below(3);
      if (plan.trouble === 'stop' && since >= 0) continue;
      const fraction = 0.1 + 0.05 * random.uniform();
      level += (makeUp - level) * fraction;
      const chance = random.uniform();
      const other = plan.rough && chance < 0.2 ? 0.5 + random.uniform() : 1;
      if (chance >= 0.1) world.changes.push(waterChange(day + 0.5, fraction * other));
    }
  }
  return world;
}

/** What the trouble adds a day: for good from the onset, or growing so that the level goes on rising as at first. */
function added({ trouble }: NitratePlan, since: number): number {
  if (since < 0) return 0;
  if (trouble === 'step') return rise / 7;
  // Production makes up for what the changes of 12.5 % a week take of the rise so far.
  if (trouble === 'ramp') return (rise / 7) * (1 - Math.log(1 - 0.125) * (since / 7));
  return 0;
}

function test(
  { relativeSd, chart: charted }: NitratePlan,
  day: number,
  expected: number,
  kit: number,
  random: ReturnType<typeof seededRandom>,
) {
  const slip = random.uniform() < 0.02 ? 2 ** (2 * random.uniform() - 1) : 1;
  const seen = expected * slip * Math.exp(relativeSd * random.normal());
  const value = charted ? nearest(seen) : seen;
  const below = value === 0;
  const shown = below ? (chart[1] ?? 2) : value;
  return reading(day, shown, relativeSd * shown, { kitId: `kit ${kit}`, step: charted ? 5 : null, below });
}

const nearest = (value: number): number =>
  chart.reduce((best, field) => (Math.abs(field - value) < Math.abs(best - value) ? field : best), 0);
