import type { LotFact, SystemFacts } from '../../facts/types.ts';
import { dateOfDay } from '../shared/words.ts';

/**
 * Since when a lot stands in the light it has, by the day on which its last piece of light begins: known where the lot was
 * moved or lamps were set then; where a survey found it, it began some time before that.
 */
export function lightSince(
  facts: Pick<SystemFacts, 'racks' | 'lamps' | 'timeZone'>,
  lot: LotFact,
  day: number,
): string {
  const isDay = (other: number) => Math.abs(other - day) < 1e-6;
  const surveys = facts.racks.find(({ id }) => id === lot.rackId)?.surveys ?? [];
  const lamp = facts.lamps.find(({ id }) => id === lot.lampId);
  const known = isDay(lot.placedDay) || lamp?.settings.some((setting) => isDay(setting.day)) === true;
  const found = !known && surveys.some((survey) => isDay(survey.day));
  return `${found ? 'by the survey of' : 'since'} ${dateOfDay(day, facts)}`;
}
