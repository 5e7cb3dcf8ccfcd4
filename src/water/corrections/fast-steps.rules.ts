import type { AcuteRate } from '../acute/acute-states.rules.ts';
import { weighableStep } from '../dosing/substances.rules.ts';
import {
  type Addition,
  exchangeAt,
  exchangesOf,
  type Planned,
  refuse,
  type ScheduleRequest,
  weighedOut,
} from './additions.rules.ts';

/** What rounding to the scale may add to a step; own choice. */
const byRounding = 0.01;
/** More exchanges than this and the new water is too near the level; own choice. */
const mostExchanges = 60;

/**
 * The steps within hours that bring an acute level to where the slow rate takes over, or to the target where that comes
 * first: none larger than the fast rate allows, as many hours apart as it asks for (the most of them), and no more in a
 * day than it bounds. None where the level is not acute, or the target lies on its other side.
 */
export function fastAdditions(request: ScheduleRequest, level: number): Planned {
  const { fast, target, means, from } = request;
  if (fast === null || fast.by === null) return { ok: true, additions: [] };
  const side = Math.sign(fast.by);
  const edge = side > 0 ? Math.min(fast.to, target) : Math.max(fast.to, target);
  if ((edge - level) * side <= 0) return { ok: true, additions: [] };
  if (means.mostPerDay !== null)
    return refuse(
      'substance',
      'The level is acute and is raised within hours, but only as much limewater fits as evaporates in a day. Choose another substance.',
    );
  // What lies within the error of the test is left to the slow steps, rather than to another day of fast ones.
  const least = Math.max(1, Math.ceil(((edge - level) * side - from.u) / Math.abs(fast.by) - 1e-9));
  return means.amountPerRise === null
    ? fastExchanges({ ...request, target: edge }, level, fast, fast.by, least)
    : fastDoses(request, { edge, level, count: least }, fast, fast.by * means.amountPerRise);
}

/** When each of the steps is made, in days after the first. */
function timeOf({ by, everyHours: [, hours], mostInDay }: AcuteRate, i: number): number {
  const inDay =
    mostInDay === null || by === null ? Infinity : Math.max(1, Math.floor(mostInDay / Math.abs(by) + 1e-9));
  return Number.isFinite(inDay) ? Math.floor(i / inDay) + ((i % inDay) * hours) / 24 : (i * hours) / 24;
}

function fastDoses(
  { means, startDay }: ScheduleRequest,
  { edge, level, count }: { edge: number; level: number; count: number },
  fast: AcuteRate,
  mostAmount: number,
): Planned {
  const perRise = means.amountPerRise ?? 0;
  const each = Math.min(((edge - level) / count) * perRise, mostAmount);
  const step = weighableStep(each, means.unit);
  const most = Math.floor((mostAmount * (1 + byRounding)) / step) * step;
  const amounts = weighedOut(
    Array.from({ length: count }, () => each),
    step,
    most,
  );
  if (amounts.some((amount) => amount <= 0))
    return refuse('target', 'So little cannot be weighed out. Choose a solution of known strength.');
  const additions = amounts.map((amount, i): Addition => {
    const at = timeOf(fast, i);
    return { at, amount, change: { day: startDay + at, rise: amount / perRise } };
  });
  return { ok: true, additions };
}

function fastExchanges(
  request: ScheduleRequest,
  level: number,
  fast: AcuteRate,
  by: number,
  least: number,
): Planned {
  const asked = { ...request, dailyCap: Math.abs(by), drift: null };
  for (let count = least; count <= mostExchanges; count++) {
    const litres = exchangesOf(asked, level, request.means.makeUp ?? 0, count);
    if (litres === null) continue;
    return { ok: true, additions: litres.map((amount, i) => exchangeAt(request, amount, timeOf(fast, i))) };
  }
  return refuse(
    'makeUp',
    'So near the level no exchange moves it fast enough. Mix the new water farther from it.',
  );
}
