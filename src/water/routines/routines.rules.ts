import { litres, numberWords, plural } from '../../platform/words/numbers.ts';
import { whenWords } from '../../platform/words/times.ts';
import { effectOfDose } from '../dosing/dose-effect.rules.ts';
import type { DoseInput } from '../log/doses.ts';
import type { Routine } from './routines.ts';

/** What is done again and again, by the fields of what is logged. */
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
}

/**
 * The local day (days since 1970) on which the work is due next: of the days startsDay + k * everyDays (taken up to whole ones) the first that
 * is not within half an interval after it was last done. So done a day late or early, it keeps its weekday, and what
 * was done too late or too early for that skips one day of the plan: never closer than half an interval, hardly ever further
 * apart than one and a half. What was done before the first day does not count.
 */
export function dueDay({ startsDay, everyDays }: Cadence, lastDay: number | null): number {
  if (lastDay === null || lastDay < startsDay) return startsDay;
  const passed = Math.ceil((lastDay + everyDays / 2 - startsDay) / everyDays);
  return Math.ceil(startsDay + Math.max(0, passed) * everyDays - 1e-6);
}

const timesWords: Readonly<Record<number, string>> = {
  2: 'twice',
  3: 'three times',
  4: 'four times',
  5: 'five times',
  6: 'six times',
};

/** An interval typed as 2.33 means three times a week for good, not a day less each year. */
export function evenInterval(everyDays: number): number {
  const times = Math.round(7 / everyDays);
  return timesWords[times] !== undefined && Math.abs(7 / times - everyDays) < 0.03 ? 7 / times : everyDays;
}

/** "every day", "twice a week", "every 14 days". */
export function everyWords(everyDays: number): string {
  if (everyDays === 1) return 'every day';
  if (everyDays === 7) return 'every week';
  const times = Math.round(7 / everyDays);
  const words = everyDays < 7 && Math.abs(7 / times - everyDays) < 0.01 ? timesWords[times] : undefined;
  if (words !== undefined) return `${words} a week`;
  return `every ${plural(everyDays, 'day', 'days')}`;
}

const strongBase = /hydroxide|carbonate|limewater/i;

/** The usual cautions beside a piece of recurring work; common practice. */
export function cautionsOf(plan: RoutinePlan, volumeL: number): string[] {
  if (plan.work === 'water_change') {
    const much =
      plan.volumeL > volumeL / 4 ? ['More than a quarter at once: change it in parts over the day.'] : [];
    return ['Bring the new water to the same temperature and salinity before it goes in.', ...much];
  }
  if (plan.work !== 'dose') return [];
  const effect = effectOfDose(plan.substance, plan.amount, plan.unit, volumeL);
  const alkaline = effect?.quantityCode === 'alkalinity' || strongBase.test(plan.substance);
  return [
    'Add it slowly where the flow is strong, never onto corals and never two substances in one place.',
    ...(alkaline ? ['It is caustic: wear gloves and eye protection, and follow its safety sheet.'] : []),
  ];
}

/** "Alkalinity" within a sentence; "pH" and "ORP" stay as they are. */
const inSentence = (name: string) =>
  /^[A-Z][a-z]/.test(name) ? name.charAt(0).toLowerCase() + name.slice(1) : name;

/** What is to be done, as an instruction: "Change 180 L of water". */
export function routineTitle({ plan, quantity, tank }: Pick<Routine, 'plan' | 'quantity' | 'tank'>): string {
  switch (plan.work) {
    case 'test':
      return `Test ${inSentence(quantity?.name ?? plan.quantityCode)}`;
    case 'water_change':
      return `Change ${litres(plan.volumeL)} of water`;
    case 'dose':
      return `Dose ${numberWords(plan.amount)} ${plan.unit} ${plan.substance}`;
    case 'feeding':
      return `Feed ${plan.amountG === null ? '' : `${numberWords(plan.amountG)} g `}${plan.food}${tank === null ? '' : `, ${tank}`}`;
  }
}

/** How it is done and when it was last: one line each. */
export function routineDetail(routine: Routine, now: Date): string[] {
  const { plan, lastAt, timeZone, everyDays, systemVolumeL } = routine;
  const last = lastAt === null ? 'not logged yet' : `last ${whenWords(lastAt, timeZone, now)}`;
  const how = `${everyWords(everyDays)}; ${last}`;
  if (plan.work === 'water_change')
    return [`${numberWords((100 * plan.volumeL) / systemVolumeL, 0)} % of the system`, how];
  if (plan.work === 'feeding' && plan.pumpsOffMin !== null)
    return [`Pumps off for ${plan.pumpsOffMin} min; ticking it off starts their time.`, how];
  if (plan.work !== 'dose' || effectOfDose(plan.substance, plan.amount, plan.unit, systemVolumeL) !== null)
    return [how];
  return ['What it raises is not known, so it is logged without an effect.', how];
}
