import type pg from 'pg';

/** How a rack's light is known. */
export interface RackLight {
  surveyId: string;
  measuredAt: Date;
  readings: number;
  surveyPercent: number | null;
  /** Largest standard error of a slot that was not measured, as surveyed; null when every slot was. */
  widestError: number | null;
  /** The lamps' setting now and since when; null where none is noted. */
  lampPercent: number | null;
  lampSetAt: Date | null;
}

const query = `
  SELECT survey.id AS "surveyId", survey.measured_at AS "measuredAt", survey.lamp_percent AS "surveyPercent",
         (SELECT count(*)::int FROM light_survey_point WHERE survey_id = survey.id) AS readings,
         (SELECT max(slot_light.error) FROM slot_light JOIN slot ON slot.id = slot_light.slot_id
           WHERE survey_id = survey.id AND NOT measured AND slot.row <= rack.rows AND slot."column" <= rack.columns) AS "widestError",
         setting.percent AS "lampPercent", setting.at AS "lampSetAt"
    FROM rack
    JOIN LATERAL (SELECT * FROM light_survey WHERE rack_id = rack.id AND voided_at IS NULL
                   ORDER BY measured_at DESC, id DESC LIMIT 1) AS survey ON true
    LEFT JOIN LATERAL (SELECT * FROM lamp_setting WHERE lamp_id = rack.lamp_id ORDER BY at DESC LIMIT 1) AS setting ON true
   WHERE rack.id = $1`;

/** How the light on a rack is known; null when it was never measured. */
export async function rackLight(pool: pg.Pool, rackId: string): Promise<RackLight | null> {
  return (await pool.query<RackLight>(query, [rackId])).rows[0] ?? null;
}
