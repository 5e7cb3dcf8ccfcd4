import { type Left, type LeftInDosers, leftIn } from '../../farm/equipment/reservoir.rules.ts';
import { type Doser, readDosers, recordOf } from './doser-record.ts';
import { reckonedOf } from './posting.ts';
import { perDayAt, type Reckoned } from './reckoning.rules.ts';

/**
 * What is left in a doser's container: by its plan, its calibrations, the times it was off and what was seen in it; by
 * the books alone where it never had a plan. Null where that is not known.
 */
export function leftInDoser(
  doser: Doser,
  now: Date,
  { leftL, share }: Pick<Reckoned, 'leftL' | 'share'> = reckonedOf(doser, now),
): Left | null {
  const { filledAtMs, plans, off } = doser;
  if (plans.length === 0)
    return leftIn({ ...doser, filledAt: filledAtMs === null ? null : new Date(filledAtMs) }, now);
  if (leftL === null) return null;
  const plan = plans.find(({ untilMs }) => untilMs === null);
  const stands = plan === undefined || off.some(({ untilMs }) => untilMs === null);
  const perDay = stands ? 0 : share * (perDayAt(recordOf(doser), plan, now.getTime()) ?? 0);
  return { litres: leftL, days: perDay === 0 ? null : (leftL * 1000) / perDay };
}

/** The same for many; two dosers or two hundred, one query. */
export const leftInDosers: LeftInDosers = async (reader, ids, now) =>
  new Map((await readDosers(reader, ids)).map((doser) => [doser.id, leftInDoser(doser, now)]));
