import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import type { KitFact, ReadingFact } from '../../../src/watch/facts/types.ts';
import { judgeKitRecord } from '../../../src/water/kits/bias.rules.ts';
import { needsThirdTest } from '../../science/worlds.ts';
import { blankKit, blankSystem, dayZero, madeId, onDay, reading } from '../../watch/facts.ts';
import { evaluating, ruleFor, type Tried } from './settings.ts';
import { type Habit, kitDays, testDays, wandering } from './world.ts';

/** A kit opened in a water that is tested by a habit, with or without checks of a standard in duplicate. */
export interface KitJob {
  kind: 'kit';
  heading: string;
  quantity: 'alkalinity' | 'nitrate';
  habit: Habit;
  /** Relative standard uncertainty of a test. */
  u: number;
  moving: boolean;
  checksEvery: number | null;
  /** The new kit's relative bias. */
  bias: number;
  /** Days after the opening on which it is judged. */
  by: number;
  /** Share of the kits 10 % low that the study reaches on the last day, and of which verdict. */
  aim: { of: 'suspected' | 'named' | 'cannotTell'; share: number };
  kits: number;
  seed: number;
  tried: Tried;
}

/** Shares of the kits. */
export interface KitResult {
  kind: 'kit';
  job: KitJob;
  /** Suspected or named at the last look, at any look, without and with the right side asked. */
  suspected: { last: number; ever: number };
  named: { last: number; ever: number };
  cannotTell: number;
}

const historyDays = 240;
/** Relative SD of the water: by day, and its slow wandering over 30 days where it moves. */
const water = {
  alkalinity: { day: 0.015, wander: 0.03, level: 2.93 },
  nitrate: { day: 0, wander: 0.1, level: 8 },
};
const sawTooth = 0.06;
const standardSd = 0.01;

/** Runs one job; the same job gives the same result on every machine. */
export function runKits(job: KitJob): KitResult {
  const told = Array.from({ length: job.kits }, (_, i) => followKit(job, seededRandom(job.seed + i)));
  const share = (holds: (one: (typeof told)[number]) => boolean | undefined) =>
    told.filter((one) => holds(one) === true).length / told.length;
  return {
    kind: 'kit',
    job,
    suspected: {
      last: share(({ looks }) => looks.at(-1)?.suspected),
      ever: share(({ looks }) => looks.some(({ suspected }) => suspected)),
    },
    named: {
      last: share(({ looks }) => looks.at(-1)?.named),
      ever: share(({ looks }) => looks.some(({ named }) => named)),
    },
    cannotTell: share(({ verdict }) => verdict === 'kit or water, cannot tell yet'),
  };
}

function followKit(job: KitJob, random: Random) {
  const readings = readWater(job, random);
  const checks = job.checksEvery === null ? [] : readStandard(job, job.checksEvery, random);
  const evaluate = evaluating(ruleFor.kit, job.tried);
  const side = job.bias > 0 ? 'high' : 'low';
  const stamps = [...readings, ...checks].map(({ day }) => day).filter((day) => day >= dayZero + historyDays);
  const looks = [...new Set(stamps)]
    .sort((a, b) => a - b)
    .map((day) => {
      const kit = kitOn(job, readings, checks, day);
      const found = evaluate(blankSystem({ kits: [kit] }), day).filter(
        ({ status, number }) => status === 'fires' && (job.bias === 0 || number.label === `Reads ${side} by`),
      );
      return {
        suspected: found.length > 0,
        // Two bottles that differ are told today too, and neither is named.
        named: found.some(({ title }) => title.includes('the kit reads')),
      };
    });
  const last = dayZero + historyDays + job.by;
  return { looks, verdict: judgeKitRecord(kitOn(job, readings, checks, last)).verdict };
}

function kitOn(
  { quantity }: KitJob,
  readings: readonly ReadingFact[],
  checks: KitFact['checks'],
  day: number,
): KitFact {
  const known = readings.filter((r) => r.day <= day);
  const firstDay = readings.find(({ kitId }) => kitId === newKit)?.day ?? dayZero + historyDays;
  return blankKit({
    id: newKit,
    label: 'New set',
    quantityCode: quantity,
    openedDay: dayZero + historyDays,
    openedAt: onDay(historyDays).toISOString(),
    checks: checks.filter((check) => check.day <= day),
    systems: [{ systemId: blankSystem().systemId, name: 'Long run', firstDay, readings: known }],
  });
}

const newKit = 'new';

function readWater({ quantity, habit, u, moving, bias, by }: KitJob, random: Random): ReadingFact[] {
  const days = historyDays + by + 1;
  const { day: byDay, wander, level } = water[quantity];
  const slow = wandering(random, 30);
  const kits = kitDays(historyDays - 60, random).filter((day) => day < historyDays - 60);
  const tests = new Set(testDays(habit, days, random, { missed: 0.05, irregular: quantity === 'nitrate' }));
  return Array.from({ length: days }, (_, day) => {
    const moved = (moving ? wander * slow() : 0) + byDay * random.normal() + tooth(quantity, day);
    if (!tests.has(day)) return null;
    const opened = day >= historyDays;
    const seen = level * (1 + moved) * (opened ? 1 + bias : 1) * testError(quantity, u, random);
    const kitId = opened ? newKit : `kit ${kits.findLastIndex((on) => on <= day)}`;
    return reading(day, seen, u * seen, { kitId });
  }).filter((one) => one !== null);
}

/** Nitrate between weekly changes. */
const tooth = (quantity: KitJob['quantity'], day: number) =>
  quantity === 'nitrate' ? sawTooth * (((day % 7) - 3) / 3) : 0;

/** With 2 % slips: by half to double for nitrate, by 6 to 18 % for alkalinity. */
function testError(quantity: KitJob['quantity'], u: number, random: Random): number {
  const error = 1 + u * random.normal();
  if (random.uniform() >= 0.02) return Math.max(0.05, error);
  if (quantity === 'nitrate') return Math.max(0.05, error) * 2 ** (2 * random.uniform() - 1);
  return error + (random.uniform() < 0.5 ? -1 : 1) * (0.06 + 0.12 * random.uniform());
}

/** Checks in duplicate, a third test when the two disagree, of a standard that is known to 1 %. */
function readStandard(job: KitJob, every: number, random: Random): KitFact['checks'] {
  const { quantity, u, bias, by } = job;
  const { level: standard } = water[quantity];
  const holds = standard * (1 + standardSd * random.normal());
  const checks: KitFact['checks'] = [];
  for (let day = 0; day <= by; day += every) {
    const test = () => holds * (1 + bias) * testError(quantity, u, random);
    const tests = [test(), test()] as const;
    const all = needsThirdTest(...tests, standard, u) ? [...tests, test()] : tests;
    checks.push(
      ...all.map((value) => ({
        id: madeId(),
        day: dayZero + historyDays + day,
        at: onDay(historyDays + day).toISOString(),
        standard,
        value,
        u: u * standard,
      })),
    );
  }
  return checks;
}
