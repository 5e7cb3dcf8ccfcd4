import { type DailyCap, dosingPlan } from '../../science/dosing.ts';
import { caps, weighableStep } from '../dosing/substances.rules.ts';
import {
  type Addition,
  exchangeAt,
  exchangesOf,
  type NoSchedule,
  type Planned,
  refuse,
  type ScheduleRequest,
  weighedOut,
} from './additions.rules.ts';
import { type ExpectedCourse, type LevelChange, levelAt } from './expected-level.rules.ts';
import { fastAdditions } from './fast-steps.rules.ts';

/** One step of the schedule. */
export interface ScheduledStep {
  /** Days after the first. */
  day: number;
  /** Hours after the step before, at the least; null for the first, and where it is another day. */
  afterHours: number | null;
  /** As it is weighed or measured out, in the means' unit. */
  amount: number;
  /** What the amount does at once, canonical; below 0 where it lowers. */
  change: number;
  /** The level before the next step, a day later for the last, with its standard uncertainty. */
  after: { value: number; u: number };
  /** The level is tested before this step. */
  retest: boolean;
}

export type CorrectionSchedule = { ok: true; steps: ScheduledStep[]; total: number } | NoSchedule;

/** Longer than this and it is the daily supply that wants changing; own choice. */
const mostDays = 60;
/** What the rounding of the largest weighable amount may leave undone, rather than to take a day more; own choice. */
const stillMet = 0.01;

/**
 * A schedule from the level read to the target: amounts that can be weighed out, none of which changes the level by
 * more than the cap in a day, with the level expected after each. What the rounding leaves is carried into the next
 * step. Retests come before the second step and before every other one after it; the last step is always followed by
 * one. Where the water uses more than it is given, each addition makes that up as well, within the same cap.
 * From an acute level the first steps follow each other within hours at the fast rate, each after a test, up to where the
 * slow rate takes over.
 */
export function planSchedule(asked: ScheduleRequest): CorrectionSchedule {
  const { from, target } = asked;
  const request = { ...asked, startDay: Math.max(asked.startDay, from.day) };
  const start = levelAt(courseOf(request, []), request.startDay);
  if (Math.abs(target - from.value) <= from.u)
    return refuse(
      'target',
      'The target lies within the uncertainty of the reading: there is nothing to correct. Test again on another day.',
    );
  const capped = checkCap(request.dailyCap, caps[request.quantity]);
  if (capped !== null) return refuse('dailyCap', capped);
  const wrong = meansMismatch(request, start.value);
  if (wrong !== null) return wrong;
  const fast = fastAdditions(request, start.value);
  if (!fast.ok) return fast;
  const rest = slowRest(request, start.value, fast.additions);
  if (!rest.ok) return rest;
  return scheduleOf(request, fast.additions, rest.additions);
}

/** What cannot lead to the target at all. */
function meansMismatch({ means, target }: ScheduleRequest, level: number): NoSchedule | null {
  if (means.amountPerRise === null) {
    const { makeUp } = means;
    return (target - level) * ((makeUp ?? 0) - target) > 0
      ? null
      : refuse(
          'makeUp',
          'The new water must lie beyond the target, or no exchange reaches it. Mix it stronger or weaker, or choose another target.',
        );
  }
  return target > level
    ? null
    : refuse(
        'substance',
        'Nothing that is added lowers it. Wait while the stock uses it up, or exchange water that holds less.',
      );
}

/** What is still to do by the day, once the fast steps are done; nothing where they reach the target. */
function slowRest(request: ScheduleRequest, level: number, fast: readonly Addition[]): Planned {
  const last = fast.at(-1);
  const day = last === undefined ? 0 : Math.floor(last.at) + 1;
  const startDay = request.startDay + day;
  const done = fast.map(({ change }) => change);
  const left = last === undefined ? level : levelAt(courseOf(request, done), startDay).value;
  const short = (request.target - left) * Math.sign(request.target - level);
  if (last !== undefined && short <= request.from.u) return { ok: true, additions: [] };
  const slow = { ...request, startDay };
  const { amountPerRise } = request.means;
  const planned = amountPerRise === null ? planExchanges(slow, left) : planDoses(slow, left, amountPerRise);
  return planned.ok
    ? { ok: true, additions: planned.additions.map((one) => ({ ...one, at: one.at + day })) }
    : planned;
}

function checkCap(dailyCap: number, { most }: DailyCap): string | null {
  if (!(dailyCap > 0)) return 'The most a day must be above 0.';
  return dailyCap <= most * (1 + 1e-9)
    ? null
    : 'So fast a change is not planned here: too much depends on one test. Choose less a day.';
}

const courseOf = (
  { from, drift, means, quantity }: ScheduleRequest,
  done: readonly LevelChange[],
): ExpectedCourse => ({
  from,
  driftPerDay: drift?.perDay ?? 0,
  driftSd: drift?.sd ?? 0,
  relativeU: means.relativeU,
  saline: quantity === 'salinity',
  done,
});

function planDoses(request: ScheduleRequest, level: number, amountPerRise: number): Planned {
  const drift = request.drift?.perDay ?? 0;
  const [use, gain] = [Math.max(0, -drift), Math.max(0, drift)];
  const { mostPerDay, unit } = request.means;
  const capAmount = Math.min((request.dailyCap - gain) * amountPerRise, mostPerDay?.amount ?? Infinity);
  // A means whose own bound binds is to be met in whole weighable steps too.
  const step = weighableStep(Math.max(capAmount, 0), unit);
  const most = Math.floor(capAmount / step + 1e-9) * step;
  const net = most / amountPerRise - use;
  if (gain >= request.dailyCap)
    return refuse('target', 'The level rises by itself as fast as it may. Add nothing, and test again.');
  if (net <= 0) return tooLittle(request);
  if ((request.target - level) / (net + gain) > mostDays)
    return refuse(
      mostPerDay === null ? 'dailyCap' : 'evaporation',
      `That would take more than ${mostDays} days. Raise the daily supply instead, or choose another substance.`,
    );
  const days = dosingPlan(
    {
      current: level,
      target: request.target,
      maxRisePerDay: (net + gain) * (1 + stillMet),
      usePerDay: -drift,
    },
    amountPerRise,
  );
  if (days.some((one) => one.amount <= 0))
    return refuse('target', 'The level comes to the target by itself. Add nothing, and test again.');
  const amounts = weighedOut(
    days.map((one) => one.amount),
    weighableStep(Math.max(...days.map((one) => one.amount)), unit),
    most,
  );
  if (amounts.some((amount) => amount <= 0))
    return refuse('target', 'So little cannot be weighed out. Choose a target farther off, or wait.');
  const additions = amounts.map((amount, at) => ({
    at,
    amount,
    change: { day: request.startDay + at, rise: amount / amountPerRise },
  }));
  return { ok: true, additions };
}

function tooLittle({ means }: ScheduleRequest): NoSchedule {
  return means.mostPerDay === null
    ? refuse(
        'dailyCap',
        'The stock uses as much in a day as may be added in one. Raise the daily supply first, then correct what is still missing.',
      )
    : refuse(
        'evaporation',
        `This much limewater does not even make up what is used in a day, and ${means.mostPerDay.why}. Choose another substance.`,
      );
}

/** Exchanges of water: as few as cap and share of the water allow, all moving the level by the same amount. */
function planExchanges(request: ScheduleRequest, level: number): Planned {
  const makeUp = request.means.makeUp ?? 0;
  const least = Math.ceil(Math.abs(request.target - level) / request.dailyCap - 1e-9);
  for (let count = Math.max(1, least); count <= mostDays; count++) {
    const litres = exchangesOf(request, level, makeUp, count);
    if (litres !== null)
      return { ok: true, additions: litres.map((amount, at) => exchangeAt(request, amount, at)) };
  }
  return refuse(
    'makeUp',
    `That would take more than ${mostDays} days of exchanges. New water farther from the target needs fewer.`,
  );
}

function scheduleOf(
  request: ScheduleRequest,
  fast: readonly Addition[],
  slow: readonly Addition[],
): CorrectionSchedule {
  const all = [...fast, ...slow];
  const course = courseOf(
    request,
    all.map(({ change }) => change),
  );
  const levelAfter = (count: number, at: number) =>
    levelAt({ ...course, done: course.done.slice(0, count) }, request.startDay + at);
  const steps = all.map(({ at, amount }, i): ScheduledStep => {
    const before = all[i - 1];
    const hours = before === undefined ? null : Math.round((at - before.at) * 24);
    const change = levelAfter(i + 1, at).value - levelAfter(i, at).value;
    const after = levelAfter(i + 1, all[i + 1]?.at ?? at + 1);
    // Every fast step but the first waits for its test; of the slow ones the second, and every other one after it.
    const retest = i < fast.length ? i > 0 : (i - fast.length + Number(fast.length > 0)) % 2 === 1;
    const afterHours = i < fast.length && hours !== null && hours < 12 ? hours : null;
    return { day: Math.floor(at), afterHours, amount, change, after, retest };
  });
  return { ok: true, steps, total: all.reduce((sum, { amount }) => sum + amount, 0) };
}
