import { salinityExchangeL } from '../../science/dilution.ts';
import { type DailyCap, dosingPlan } from '../../science/dosing.ts';
import { type Correctable, caps, type Means, weighableStep } from '../dosing/substances.rules.ts';
import { type ExpectedCourse, type LevelChange, levelAt } from './expected-level.rules.ts';

/** What is wished for; canonical units, days as moments in days since 1970. */
export interface ScheduleRequest {
  quantity: Correctable;
  /** The reading that is relied on. */
  from: { day: number; value: number; u: number };
  target: number;
  dailyCap: number;
  volumeL: number;
  means: Means;
  /** What the water does by itself in a day with its usual dosing; null where nobody can tell yet. */
  drift: { perDay: number; sd: number } | null;
  /** When the first addition is made. */
  startDay: number;
}

/** One day of the schedule. */
export interface ScheduledStep {
  /** Days after the first. */
  day: number;
  /** As it is weighed or measured out, in the means' unit. */
  amount: number;
  /** What the amount does at once, canonical; below 0 where it lowers. */
  change: number;
  /** The level a day later, before the next step, with its standard uncertainty. */
  after: { value: number; u: number };
  /** The level is tested before this step. */
  retest: boolean;
}

export type CorrectionSchedule =
  | { ok: true; steps: ScheduledStep[]; total: number }
  /** Why there is none: one sentence with what to do, and the field it belongs to. */
  | { ok: false; refused: string; field: 'target' | 'dailyCap' | 'makeUp' | 'evaporation' | 'substance' };

/** Longer than this and it is the daily supply that wants changing; own choice. */
const mostDays = 60;
/** At most this part of the water goes out on one day; own choice. */
const mostFraction = 0.3;
/** What the rounding of the largest weighable amount may leave undone, rather than to take a day more; own choice. */
const stillMet = 0.01;

const refuse = (
  field: Extract<CorrectionSchedule, { ok: false }>['field'],
  refused: string,
): CorrectionSchedule => ({
  ok: false,
  refused,
  field,
});

/**
 * A schedule from the level read to the target: amounts that can be weighed out, none of which changes the level by
 * more than the cap in a day, with the level expected after each. What the rounding leaves is carried into the next
 * step. Retests come before the second step and before every other one after it; the last step is always followed by
 * one. Where the water uses more than it is given, each addition makes that up as well, within the same cap.
 */
export function planSchedule(asked: ScheduleRequest): CorrectionSchedule {
  const { from, target, means } = asked;
  const request = { ...asked, startDay: Math.max(asked.startDay, from.day) };
  const start = levelAt(courseOf(request, []), request.startDay);
  if (Math.abs(target - from.value) <= from.u)
    return refuse(
      'target',
      'The target lies within the uncertainty of the reading: there is nothing to correct. Test again on another day.',
    );
  const capped = checkCap(request.dailyCap, caps[request.quantity]);
  if (capped !== null) return refuse('dailyCap', capped);
  if (means.amountPerRise === null) return planExchanges(request, start.value);
  if (target <= start.value)
    return refuse(
      'substance',
      'Nothing that is added lowers it. Wait while the stock uses it up, or exchange water that holds less.',
    );
  return planDoses(request, start.value, means.amountPerRise);
}

function checkCap(dailyCap: number, { most }: DailyCap): string | null {
  if (!(dailyCap > 0)) return 'The most a day must be above 0.';
  return dailyCap <= most * (1 + 1e-9)
    ? null
    : 'So fast a change is not planned here: too much hangs on one test. Choose less a day.';
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

function planDoses(request: ScheduleRequest, level: number, amountPerRise: number): CorrectionSchedule {
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
  return scheduleOf(request, amounts, (amount, day) => ({ day, rise: amount / amountPerRise }));
}

function tooLittle({ means }: ScheduleRequest): CorrectionSchedule {
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

/** Amounts rounded to what can be weighed, none above the most, the rest carried on: their sum is right to half a step. */
function weighedOut(amounts: readonly number[], step: number, most: number): number[] {
  let [wanted, given] = [0, 0];
  return amounts.map((amount) => {
    wanted += amount;
    const whole = Math.min(Math.round((wanted - given) / step), Math.round(most / step));
    given += whole * step;
    return Number((whole * step).toFixed(3));
  });
}

/** Exchanges of water: as few as cap and share of the water allow, all moving the level by the same amount. */
function planExchanges(request: ScheduleRequest, level: number): CorrectionSchedule {
  const makeUp = request.means.makeUp ?? 0;
  const { target } = request;
  if ((target - level) * (makeUp - target) <= 0)
    return refuse(
      'makeUp',
      'The new water must lie beyond the target, or no exchange reaches it. Mix it stronger or weaker, or choose another target.',
    );
  const least = Math.ceil(Math.abs(target - level) / request.dailyCap - 1e-9);
  for (let count = Math.max(1, least); count <= mostDays; count++) {
    const litres = exchangesOf(request, level, makeUp, count);
    if (litres !== null)
      return scheduleOf(request, litres, (amount, day) => ({
        day,
        fraction: amount / request.volumeL,
        makeUp,
      }));
  }
  return refuse(
    'makeUp',
    `That would take more than ${mostDays} days of exchanges. New water farther from the target needs fewer.`,
  );
}

/** The litres of so many exchanges; null where one would be too large. */
function exchangesOf(
  request: ScheduleRequest,
  level: number,
  makeUp: number,
  count: number,
): number[] | null {
  const { volumeL, target, quantity, dailyCap } = request;
  const drift = request.drift?.perDay ?? 0;
  const each = (target - level) / count;
  // What the water does by itself until the next one is made up as well.
  const needed = Array.from({ length: count }, (_, i) => {
    const [before, after] = [level + each * i, level + each * (i + 1) - drift];
    if ((after - before) * (makeUp - after) <= 0) return Infinity;
    if (Math.abs(after - before) > dailyCap * (1 + 1e-9)) return Infinity;
    return quantity === 'salinity'
      ? salinityExchangeL(volumeL, before, after, makeUp)
      : (volumeL * (after - before)) / (makeUp - before);
  });
  const largest = Math.max(...needed);
  if (!(largest <= mostFraction * volumeL)) return null;
  const step = weighableStep(largest, 'L');
  const capL = needed.map((_, i) => (dailyCap * volumeL) / Math.abs(makeUp - level - each * i));
  const litres = needed.map((one, i) => {
    const nearest = Math.round(one / step);
    const whole = nearest * step <= (capL[i] ?? 0) ? nearest : Math.floor(one / step);
    return Number((whole * step).toFixed(3));
  });
  return litres.every((one) => one > 0) ? litres : null;
}

function scheduleOf(
  request: ScheduleRequest,
  amounts: readonly number[],
  moved: (amount: number, day: number) => LevelChange,
): CorrectionSchedule {
  const done = amounts.map((amount, i) => moved(amount, request.startDay + i));
  const course = courseOf(request, done);
  const steps = amounts.map((amount, i): ScheduledStep => {
    const before = levelAt({ ...course, done: done.slice(0, i) }, request.startDay + i).value;
    const at = levelAt({ ...course, done: done.slice(0, i + 1) }, request.startDay + i).value;
    const after = levelAt({ ...course, done: done.slice(0, i + 1) }, request.startDay + i + 1);
    return { day: i, amount, change: at - before, after, retest: i % 2 === 1 };
  });
  return { ok: true, steps, total: amounts.reduce((sum, amount) => sum + amount, 0) };
}
