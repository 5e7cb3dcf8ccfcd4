import type { Finding } from '../../../alerts/finding.ts';
import { scales } from '../../../platform/units/scales.ts';
import { comparedDays, fallOverSwing } from '../../../science/filter/fall-or-swing.ts';
import { type SwingStep, swingLimit, swingOptions, watchSwing } from '../../../science/filter/swing.ts';
import type { Lately } from '../../../science/filter/swing-or-trend.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { convertDifference } from '../../../science/units/convert.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { sinceLastEvent } from '../levels/last-event.ts';
import { lowerMiddle, usualGap } from '../levels/spacing.ts';
import { study } from '../shared/words.ts';
import { type BesideTheLog, besideTheLog } from './logged-moves.ts';
import { ceiling, limitedSums, movesOf } from './swing-evidence.ts';

/** The rule’s name and its numbers. */
export const swingRule = 'alkalinity-unsteady';
export const swingParameters = {
  caution: {
    label: 'How sure before an alert (1: as tuned; more: fewer alerts)',
    unit: 'times',
    default: 1,
    low: 0.5,
    high: 3,
    source: `${study}: 1 gives about one false alert in two years and system, whether the level wanders or not; 1.2 halves that and costs about five days`,
  },
  stays: {
    label: 'Close when less sure than (same scale)',
    unit: 'times',
    default: 0.5,
    low: 0,
    high: 1,
    source: 'own choice: half of what the study found',
  },
  learnt: {
    label: 'Tests needed to know the usual swing',
    unit: 'readings',
    default: 20,
    low: 10,
    high: 200,
    source: `${study}: about 20`,
  },
  days: {
    label: 'Days of tests needed first',
    unit: 'd',
    default: 60,
    low: 40,
    high: 365,
    source: `${study}: an own swing is known from about 60 days`,
  },
  jump: {
    label: 'Act now on a change in a day, beyond test error, of',
    unit: 'dKH',
    scale: scales.dKH,
    default: 1,
    low: 0.3,
    high: 5,
    source: 'how-to articles, common practice: at most 1 dKH a day',
  },
};

const staleDays = 14;
/** Fewer tests of a month tell no fall from a swing; own choice. */
const fewestCompared = 5;

/** The evidence of a swing, and what it is told as. */
export interface Watched {
  /** Of the tests beside what was put in by the log, or what corrections planned. */
  steps: readonly SwingStep[];
  beside: BesideTheLog;
  sum: number;
  limit: number;
  status: Finding['status'];
  perDkh: number;
  /** A fall or rise that is told as that, in place of a swing. */
  trend: Lately | null;
}

/** Tests beside the log with what is usual for them; null where they are too few, or too few days of them. */
function learntSwing(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  values: Values<typeof swingParameters>,
  now: Date,
) {
  const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
  const beside = besideTheLog(facts, readings, now);
  const { tests } = beside;
  const steps = watchSwing(tests, swingOptions(perDkh));
  const last = steps.at(-1);
  if (last === undefined || last.learntFrom < values.learnt) return null;
  if (last.day - (tests[0]?.day ?? last.day) < values.days) return null;
  return { perDkh, beside, steps, last, stale: dayOf(now) - last.day > staleDays };
}

type Learnt = NonNullable<ReturnType<typeof learntSwing>>;

/** The evidence of a swing by these readings; null where it is not known, or too little to keep an alert open. */
export function watchedSwing(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  values: Values<typeof swingParameters>,
  now: Date,
): Watched | null {
  const learnt = learntSwing(facts, readings, values, now);
  return learnt === null ? null : swingOf(learnt, values);
}

function swingOf(
  { perDkh, beside, steps, last, stale }: Learnt,
  values: Values<typeof swingParameters>,
): Watched | null {
  const { tests } = beside;
  const testSd = lowerMiddle(tests.slice(-60).map(({ sd }) => sd)) / perDkh;
  const limit = swingLimit(usualGap(tests), testSd, last.wander);
  const opens = values.caution * limit;
  const sums = limitedSums(steps, opens, ceiling * limit);
  const sum = sums.at(-1) ?? 0;
  if (sum < values.stays * limit) return null;
  const { trend, tells } = movesOf(beside, { steps, sums, opens, most: ceiling * limit, perDkh });
  const status = stale ? 'unknown' : tells && sum >= opens ? 'fires' : 'stays';
  return { steps, beside, sum, limit, status, perDkh, trend: trend?.tells === true ? trend : null };
}

/** A swing that what looks like a fall may be a part of. */
export interface MaySwing {
  /** Natural log of the odds of a fall against a swing, by the last tests. */
  fallOverSwing: number;
  /** It is told as a swing by itself. */
  told: boolean;
}

/** Log odds from which a fall is told alone: 55 to 1. By simulation, in DEVELOPERS.md. */
const surelyAFall = 4;

/**
 * Whether water that these readings show to fall may only swing, and be low just now: the tests of the last month do not say clearly
 * that it bent down instead. Null where they do, and where too little is known of its usual swing to tell.
 */
export function maySwing(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  values: Values<typeof swingParameters>,
  now: Date,
): MaySwing | null {
  const learnt = learntSwing(facts, sinceLastEvent(facts, readings), values, now);
  if (learnt === null || learnt.stale) return null;
  const { beside, last, perDkh } = learnt;
  const lately = beside.asRead.filter(({ day }) => day > last.day - comparedDays);
  if (lately.length < fewestCompared) return null;
  const odds = fallOverSwing(lately, last, perDkh);
  if (odds > surelyAFall) return null;
  const seen = swingOf(learnt, values);
  return { fallOverSwing: odds, told: seen?.status === 'fires' && seen.trend === null };
}
