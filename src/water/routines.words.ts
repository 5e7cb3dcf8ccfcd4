import { numberWords, whenWords } from '../platform/words.ts';
import { effectOfDose } from './dosing/dose-effect.rules.ts';
import { litres } from './numbers.ts';
import { everyWords } from './routines.rules.ts';
import type { Routine } from './routines.ts';

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
