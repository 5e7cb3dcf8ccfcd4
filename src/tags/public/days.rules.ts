import { lightTone } from '../../racks/drawing/light-tones.rules.ts';
import type { PlanStep } from './plan.rules.ts';
import { dayOfPlan } from './plan-lines.ts';

/** One day of getting used to the light. */
export interface PlanDay {
  /** 1 is the day it comes. */
  number: number;
  /** "Sat" and "28 Nov"; '' where the day it comes is not known. */
  weekday: string;
  date: string;
  /** Light at its place on that day, umol/(m2 s) at full light. */
  par: number;
  /** Class of the tone that light has on every drawing. */
  tone: string;
  /** True on the day it is moved, or its light changed. */
  isStep: boolean;
}

const inWords = (day: string, options: Intl.DateTimeFormatOptions) =>
  new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', ...options }).format(new Date(`${day}T12:00:00Z`));

/** A plan day by day, in whole weeks from the day it comes to the week of the last step. */
export function planDays(steps: readonly PlanStep[], dayZero: string | null): PlanDay[] {
  const last = steps.at(-1);
  if (last === undefined) return [];
  const weeks = Math.ceil((last.fromDay + 1) / 7);
  return Array.from({ length: weeks * 7 }, (_, at) => {
    const step = steps.findLast(({ fromDay }) => fromDay <= at) ?? last;
    const day = dayZero === null ? null : dayOfPlan(dayZero, at);
    // Where no place is as bright as the step, what is there counts.
    const par = Math.round(step.par / Math.max(1, step.share));
    return {
      number: at + 1,
      weekday: day === null ? '' : inWords(day, { weekday: 'short' }),
      date: day === null ? '' : inWords(day, { day: 'numeric', month: 'short' }),
      par,
      tone: lightTone(par) ?? 'light-none',
      isStep: step.fromDay === at,
    };
  });
}
