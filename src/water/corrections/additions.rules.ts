import { salinityExchangeL } from '../../science/dilution.ts';
import type { AcuteRate } from '../acute/acute-states.rules.ts';
import { type Correctable, type Means, weighableStep } from '../dosing/substances.rules.ts';
import type { LevelChange } from './expected-level.rules.ts';

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
  /** The fast rate, where the level read is acute; null where it is not. */
  fast: AcuteRate | null;
  /** When the first addition is made. */
  startDay: number;
}

/** One addition, or one exchange of water. */
export interface Addition {
  /** Days after the first. */
  at: number;
  /** As it is weighed or measured out, in the means' unit. */
  amount: number;
  change: LevelChange;
}

/** Why there is no schedule: one sentence with what to do, and the field it belongs to. */
export interface NoSchedule {
  ok: false;
  refused: string;
  field: 'target' | 'dailyCap' | 'makeUp' | 'evaporation' | 'substance';
}

export type Planned = { ok: true; additions: Addition[] } | NoSchedule;

export const refuse = (field: NoSchedule['field'], refused: string): NoSchedule => ({
  ok: false,
  refused,
  field,
});

/** At most this part of the water goes out at one time; own choice. */
const mostFraction = 0.3;

/** Amounts rounded to what can be weighed, none above the most, the rest carried on: their sum is right to half a step. */
export function weighedOut(amounts: readonly number[], step: number, most: number): number[] {
  let [wanted, given] = [0, 0];
  return amounts.map((amount) => {
    wanted += amount;
    const whole = Math.min(Math.round((wanted - given) / step), Math.round(most / step));
    given += whole * step;
    return Number((whole * step).toFixed(3));
  });
}

/** The litres of so many exchanges; null where one would be too large. */
export function exchangesOf(
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

/** An exchange of so many litres, so many days after the first. */
export const exchangeAt = (
  { means, volumeL, startDay }: ScheduleRequest,
  amount: number,
  at: number,
): Addition => ({
  at,
  amount,
  change: { day: startDay + at, fraction: amount / volumeL, makeUp: means.makeUp ?? 0 },
});
