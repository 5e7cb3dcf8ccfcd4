import { gramsWords, litres } from '../../platform/units/measures.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { whenWords } from '../../platform/words/times.ts';
import { weekdayWords } from '../../platform/words/weekdays.ts';
import { limeWords } from '../../science/dosing.ts';
import { effectOfDose } from '../dosing/dose-effect.rules.ts';
import type { DoseInput } from '../log/doses.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import type { Routine } from './routines.ts';

/** What a routine does, by the fields of its log entry. */
export type RoutinePlan =
  | { work: 'test'; quantityCode: string }
  | { work: 'water_change'; volumeL: number }
  | { work: 'dose'; substance: string; amount: number; unit: DoseInput['unit'] }
  | {
      work: 'feeding';
      food: string;
      amountG: number | null;
      tankId: string | null;
      pumpsOffMin: number | null;
    };

/** How often, from when on. `startsDay`: a local day as days since 1970. */
export interface Cadence {
  startsDay: number;
  everyDays: number;
  /** ISO weekdays, 1 Monday to 7 Sunday, where it falls on these instead; `everyDays` is then their mean distance. */
  weekdays?: readonly number[];
}

/**
 * The local day (days since 1970) on which a routine is due next. Of the planned days, startsDay + k x everyDays rounded up,
 * it is the first at least half an interval after it was last done. Done a day late or early, a routine so keeps its
 * weekday; done much later or earlier, it skips one planned day. Work done before the first day does not count.
 *
 * @param lastDay the local day on which it was last done; null for never
 */
export function nextDueDay({ startsDay, everyDays, weekdays = [] }: Cadence, lastDay: number | null): number {
  if (weekdays.length > 0) return nextWeekday(weekdays, startsDay, lastDay);
  if (lastDay === null || lastDay < startsDay) return startsDay;
  const passed = Math.ceil((lastDay + everyDays / 2 - startsDay) / everyDays);
  return Math.ceil(startsDay + Math.max(0, passed) * everyDays - 1e-6);
}

/** ISO weekday of a day since 1970, which began on a Thursday. */
const weekdayOf = (day: number) => ((((day + 3) % 7) + 7) % 7) + 1;

/**
 * The day of these weekdays on which work is due next. What was done counts for the nearest of them, as late for the one
 * before or early for the one after; halfway, for the one before. Work done before the first one does not count.
 */
function nextWeekday(weekdays: readonly number[], startsDay: number, lastDay: number | null): number {
  const onOrAfter = (day: number) => {
    let found = day;
    while (!weekdays.includes(weekdayOf(found))) found += 1;
    return found;
  };
  const first = onOrAfter(startsDay);
  if (lastDay === null || lastDay < first) return first;
  const next = onOrAfter(lastDay + 1);
  let before = lastDay;
  while (!weekdays.includes(weekdayOf(before))) before -= 1;
  return next - lastDay < lastDay - before ? onOrAfter(next + 1) : next;
}

const timesWords: Readonly<Record<number, string>> = {
  2: 'twice',
  3: 'three times',
  4: 'four times',
  5: 'five times',
  6: 'six times',
};

/** How far a typed interval may be from the exact one, days: two decimals, rounded either way. */
const typingError = 0.03;

/** The exact interval where a rounded one was typed: 2.33 days means three times a week, and must not drift from it. */
export function evenInterval(everyDays: number): number {
  const times = Math.round(7 / everyDays);
  return timesWords[times] !== undefined && Math.abs(7 / times - everyDays) < typingError
    ? 7 / times
    : everyDays;
}

/** "every day", "twice a week", "every 14 days". */
export function intervalWords(everyDays: number): string {
  if (everyDays === 1) return 'every day';
  if (everyDays === 7) return 'every week';
  const times = Math.round(7 / everyDays);
  const weekly = everyDays < 7 && Math.abs(7 / times - everyDays) < 0.01 ? timesWords[times] : undefined;
  if (weekly !== undefined) return `${weekly} a week`;
  return `every ${plural(everyDays, 'day', 'days')}`;
}

/** "Monday, Thursday", else "every 14 days". */
export const cadenceWords = ({
  everyDays,
  weekdays,
}: {
  everyDays: number;
  weekdays: readonly number[];
}): string => (weekdays.length > 0 ? weekdayWords(weekdays) : intervalWords(everyDays));

/** Substances that are caustic whatever they raise. */
const strongBase = /hydroxide|carbonate|soda\b/i;

/** The usual cautions beside a routine; common practice. */
export function routineCautions(plan: RoutinePlan, volumeL: number): string[] {
  if (plan.work === 'water_change') {
    const largeChange =
      plan.volumeL > volumeL / 4 ? ['More than a quarter at once: change it in parts over the day.'] : [];
    return ['Bring the new water to the same temperature and salinity before it goes in.', ...largeChange];
  }
  if (plan.work !== 'dose') return [];
  const effect = effectOfDose(plan.substance, plan.amount, plan.unit, volumeL);
  const alkaline =
    effect?.quantityCode === 'alkalinity' ||
    strongBase.test(plan.substance) ||
    limeWords.test(plan.substance);
  return [
    'Add it slowly where the flow is strong, never onto corals and never two substances in one place.',
    ...(alkaline ? ['It is caustic: wear gloves and eye protection, and follow its safety sheet.'] : []),
  ];
}

/** A routine as an instruction: "Change 180 L of water". */
export function routineTitle({ plan, quantity, tank }: Pick<Routine, 'plan' | 'quantity' | 'tank'>): string {
  switch (plan.work) {
    case 'test':
      return `Test ${nameInSentence(quantity?.name ?? plan.quantityCode)}`;
    case 'water_change':
      return `Change ${litres(plan.volumeL)} of water`;
    case 'dose':
      return `Dose ${numberWords(plan.amount)} ${plan.unit} ${plan.substance}`;
    case 'feeding':
      return `Feed ${plan.amountG === null ? '' : `${gramsWords(plan.amountG)} `}${plan.food}${tank === null ? '' : `, ${tank}`}`;
  }
}

/** How it is done, and how often and when last: one line each. */
export function routineDetail(routine: Routine, now: Date): string[] {
  const { plan, lastAt, timeZone, systemVolumeL } = routine;
  const last = lastAt === null ? 'not logged yet' : `last ${whenWords(lastAt, timeZone, now)}`;
  const how = `${cadenceWords(routine)}; ${last}`;
  if (plan.work === 'water_change')
    return [`${numberWords((100 * plan.volumeL) / systemVolumeL, 0)} % of the system`, how];
  if (plan.work === 'feeding' && plan.pumpsOffMin !== null)
    return [`Pumps off for ${plan.pumpsOffMin} min; ticking it off starts their time.`, how];
  if (plan.work !== 'dose' || effectOfDose(plan.substance, plan.amount, plan.unit, systemVolumeL) !== null)
    return [how];
  return ['What it raises is not known, so it is logged without an effect.', how];
}
