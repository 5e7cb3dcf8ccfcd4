import { addDays } from '../../platform/days.ts';
import { dateWords } from '../../platform/words/times.ts';
import type { BuyerPlan, PlanStep } from './plan.rules.ts';

/** One line of a plan: from when to when, and where to. */
export interface PlanLine {
  fromDay: number;
  when: string;
  what: string;
}

/** A plan in lines: "Days 1 to 6, from 1 Dec 2026": "at the bottom, about 95, under a shade that lets 80 % through". */
export function planLines(plan: BuyerPlan, dayZero: string | null): PlanLine[] {
  if (plan.kind === 'unknown' || plan.kind === 'as-it-is') return [];
  return plan.steps.map((step, at) => {
    const next = plan.steps[at + 1];
    const days =
      next === undefined ? `From day ${step.fromDay + 1}` : `Days ${step.fromDay + 1} to ${next.fromDay}`;
    const date = dayZero === null ? '' : `, from ${dateWords(dayOfPlan(dayZero, step.fromDay), 'UTC')}`;
    return { fromDay: step.fromDay, when: `${days}${date}`, what: stepWords(step, next === undefined) };
  });
}

function stepWords({ par, heights, share }: PlanStep, last: boolean): string {
  const [place = 'place you measured', brighter] = heights;
  const stays = last ? ', to stay' : '';
  if (brighter !== undefined)
    return `between the ${place} and the ${brighter}, where it is about ${par}${stays}`;
  if (share > 1)
    return `at the ${place}, the brightest place (about ${Math.round(par / share)}); ${par} would be gentler, if your lamps can give it`;
  const shade =
    share < 1
      ? `, with the light there brought down to ${Math.round(share * 20) * 5} % by a shade or the lamps`
      : '';
  return `at the ${place}, about ${par}${shade}${stays}`;
}

/** The calendar day so many days after the first. */
export function dayOfPlan(dayZero: string, days: number): string {
  return addDays(dayZero, days);
}
