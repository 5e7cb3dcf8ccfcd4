import type { SystemFacts } from '../../facts/types.ts';

/** The days whose doses are compared, and those before them; own choice. */
const [lateDays, beforeDays] = [7, 28];
/** A dose lowered by this part of a fall explains it: what is left is within what the slope errs by. Own choice. */
const explains = 0.6;

/** Mean doses a day before and of late, in the unit of the quantity. */
export interface DoseLowered {
  before: number;
  lately: number;
}

/**
 * A daily dose that was lowered by about as much as the level falls a day: by what was logged, it explains the fall, and the doser
 * need not. Null where it does not, where a dose's rise is not known, or where it was dosed on fewer days.
 */
export function doseLowered(
  { doses }: Pick<SystemFacts, 'doses'>,
  code: string,
  fallPerDay: number,
  today: number,
): DoseLowered | null {
  const end = Math.floor(today);
  const own = doses.filter(({ quantityCode, day }) => quantityCode === code && day < end);
  const of = (from: number, to: number) => own.filter(({ day }) => day >= from && day < to);
  const perDay = (some: typeof own, days: number) =>
    some.reduce((sum, { rise }) => sum + (rise ?? Number.NaN), 0) / days;
  const [late, past] = [of(end - lateDays, end), of(end - lateDays - beforeDays, end - lateDays)];
  const [lately, before] = [perDay(late, lateDays), perDay(past, beforeDays)];
  const dosed = (some: typeof own) => new Set(some.map(({ day }) => Math.floor(day))).size;
  // Days without a dose are no lower dose: it may have stopped, or nobody wrote it down.
  const asOften = dosed(late) / lateDays >= dosed(past) / beforeDays;
  return lately > 0 && asOften && before - lately >= explains * fallPerDay ? { before, lately } : null;
}
