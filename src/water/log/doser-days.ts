import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { comparable } from '../dosing/dose-check.rules.ts';
import { findOpenWaterSystem } from '../systems/systems.ts';
import { addDose, type DoseInput, type KeptDose, lookAtDose } from './doses.ts';

/** A dose this much above a doser's day cannot be part of it; own choice: more than calibrations and rounding differ. */
export const partOfDay = 1.25;

interface Booking {
  name: string;
  /** What it gives on such a day, mL. */
  ml: number;
}

/** The dosers whose plan covers a time, with what the nearest day of each gave. */
const bookingQuery = `
  SELECT equipment.name, coalesce(nearest.amount, plan.per_day) AS ml
    FROM doser_plan AS plan JOIN equipment ON equipment.id = plan.equipment_id JOIN system ON system.id = equipment.system_id
         JOIN site ON site.id = system.site_id
         LEFT JOIN LATERAL (SELECT amount, quantity_code FROM dose WHERE doser_id = equipment.id AND voided_at IS NULL
                             ORDER BY abs(extract(epoch FROM dose.at - $2::timestamptz)) LIMIT 1) AS nearest ON true
   WHERE equipment.system_id = $1::text::uuid AND equipment.removed_at IS NULL AND plan.voided_at IS NULL
     AND plan.from_at <= $2::timestamptz AND (plan.until_at IS NULL OR plan.until_at > $2::timestamptz)
     AND (nearest.amount IS NOT NULL OR plan.unit = 'mL')
     AND (lower(trim(plan.substance)) = lower(trim($3)) OR coalesce(nearest.quantity_code, equipment.strength_code) = $4)
   ORDER BY plan.from_at DESC LIMIT 1`;

/**
 * Logs a dose as {@link addDose} does, and asks first whether it is one that a doser's plan logs already: the same thing, no more
 * than the doser gives on that day. A larger one cannot be the doser's, and is kept.
 * @throws Refusal as addDose; 409 beside `beside` where that is not said
 */
export async function logDose(
  work: Work,
  systemId: string,
  input: DoseInput & { beside?: boolean },
): Promise<KeptDose> {
  if (input.beside !== true) await askWhetherBooked(work, systemId, input);
  return addDose(work, systemId, input);
}

async function askWhetherBooked(work: Work, systemId: string, input: DoseInput): Promise<void> {
  const { kind, amount } = comparable(input.amount, input.unit);
  if (kind !== 'volume') return;
  const { effect } = await lookAtDose(work.tx, await findOpenWaterSystem(work.tx, systemId), input);
  const values = [systemId, input.at, input.substance, effect?.quantityCode ?? null];
  const [booked] = (await readerOf(work.tx).query<Booking>(bookingQuery, values)).rows;
  if (booked === undefined || amount > partOfDay * booked.ml) return;
  throw new Refusal(
    `The doser “${booked.name}” gives ${numberWords(booked.ml, booked.ml < 10 ? 1 : 0)} mL a day of it by its plan, and that is logged by itself. If this dose is one of those, leave it. If it went in beside them, say so, and both count.`,
    { status: 409, field: 'beside' },
  );
}
