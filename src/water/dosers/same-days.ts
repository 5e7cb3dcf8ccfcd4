import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { addDays, momentOf } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import type { Doser } from './doser-record.ts';
import { doserEffect } from './posting.ts';

/** What is answered where the days of a plan hold doses already: they are the same doses, or both were given. */
export const alreadyThereAnswers = ['same', 'both'] as const;
export type AlreadyThere = (typeof alreadyThereAnswers)[number];

/** Doses of the same thing that stand on days which a plan would post. */
interface Held {
  doses: number;
  days: number;
  /** mL in all; null where one says its amount in another kind of unit. */
  ml: number | null;
  /** The last local day that holds one. */
  lastDay: string;
}

/** A dose of the same name or for the same quantity, that neither a doser nor a correction gave. */
const heldQuery = `
  SELECT count(*)::int AS doses, count(DISTINCT (dose.at AT TIME ZONE $5)::date)::int AS days,
         CASE WHEN bool_and(dose.unit IN ('mL', 'L')) THEN sum(dose.amount * CASE dose.unit WHEN 'L' THEN 1000 ELSE 1 END) END AS ml,
         max((dose.at AT TIME ZONE $5)::date)::text AS "lastDay"
    FROM dose LEFT JOIN correction_step AS step ON step.dose_id = dose.id
   WHERE dose.system_id = $1::text::uuid AND dose.voided_at IS NULL AND dose.doser_id IS NULL AND step.id IS NULL
     AND dose.at >= $2::timestamptz AND (lower(trim(dose.substance)) = lower(trim($3)) OR dose.quantity_code = $4)`;

/** When a plan begins, and how many doses stand beside it or before it. */
interface Begins {
  at: Date;
  held: number;
}

/**
 * Looks whether the days of a plan that begins in the past hold doses of the same thing already. Counted twice, every use of the
 * water would be twice the truth.
 * @param answer null where nobody said whether they are the same doses
 * @returns when it begins: after the last of them where they are the same
 * @throws Refusal 409 beside `alreadyThere` where it is not said
 */
export async function beginBesideHeld(
  work: Work,
  doser: Doser,
  { substance, at, mlPerDay }: { substance: string; at: Date; mlPerDay: number },
  answer: AlreadyThere | null,
): Promise<Begins> {
  const code = doserEffect(doser, substance, mlPerDay)?.quantityCode ?? null;
  const values = [doser.systemId, at, substance, code, doser.timeZone];
  const [held] = (await readerOf(work.tx).query<Held>(heldQuery, values)).rows;
  if (held === undefined || held.doses === 0) return { at, held: 0 };
  if (answer === null)
    throw new Refusal(
      `${heldWords(held)}. Are they the same doses? Say so: counted twice, the water would seem to use twice as much.`,
      { status: 409, field: 'alreadyThere' },
    );
  if (answer === 'both') return { at, held: held.doses };
  return { at: momentOf(addDays(held.lastDay, 1), '00:00', doser.timeZone), held: held.doses };
}

/** "These days already hold 200 mL a day of it (12 doses)", "(2 doses on 2 days)" where some days lie between. */
function heldWords({ doses, days, ml }: Held): string {
  const times = plural(doses, 'dose', 'doses');
  const on = doses === days ? '' : ` on ${plural(days, 'day', 'days')}`;
  if (ml === null) return `These days already hold ${times} of it${on}`;
  const perDay = ml / days;
  return `These days already hold ${numberWords(perDay, perDay < 10 ? 1 : 0)} mL a day of it (${times}${on})`;
}
