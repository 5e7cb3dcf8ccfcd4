/**
 * SQL: when a `routine` was last done, as the joined row `last.at`. A test by hand of the quantity; any water change;
 * a dose of the same quantity (of the substance, where it names none) that was neither a step of a correction nor a doser's; a feeding
 * of the same food in the same tank (in any, where either names none). $2 is now.
 */
export const lastDoneJoin = `
    LEFT JOIN LATERAL (
      (SELECT reading.at FROM reading LEFT JOIN method ON method.id = reading.method_id
        WHERE routine.work = 'test' AND reading.system_id = routine.system_id AND reading.quantity_code = routine.quantity_code
          AND reading.at <= $2 AND reading.voided_at IS NULL AND reading.slot_id IS NULL AND method.every_minutes IS NULL
        ORDER BY reading.at DESC LIMIT 1)
      UNION ALL
      (SELECT at FROM water_change
        WHERE routine.work = 'water_change' AND system_id = routine.system_id AND at <= $2 AND voided_at IS NULL
        ORDER BY at DESC LIMIT 1)
      UNION ALL
      (SELECT at FROM dose
        WHERE routine.work = 'dose' AND system_id = routine.system_id AND at <= $2 AND voided_at IS NULL AND doser_id IS NULL
          AND CASE WHEN routine.quantity_code IS NULL THEN lower(trim(substance)) = lower(trim(routine.detail ->> 'substance'))
                   ELSE quantity_code = routine.quantity_code END
          AND NOT EXISTS (SELECT 1 FROM correction_step WHERE correction_step.dose_id = dose.id)
        ORDER BY at DESC LIMIT 1)
      UNION ALL
      (SELECT at FROM feeding
        WHERE routine.work = 'feeding' AND system_id = routine.system_id AND at <= $2 AND voided_at IS NULL
          AND lower(trim(food)) = lower(trim(routine.detail ->> 'food'))
          AND (tank_id IS NULL OR routine.detail ->> 'tankId' IS NULL OR tank_id::text = routine.detail ->> 'tankId')
        ORDER BY at DESC LIMIT 1)) AS last ON true`;
