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
  /** Hung otherwise since the survey: when, how much deeper (mm, below 0: higher), and under other lamps. */
  moved: boolean;
  movedAt: Date | null;
  deeperMm: number;
  otherLamp: boolean;
}

const query = `
  SELECT light.survey_id AS "surveyId", light.measured_at AS "measuredAt", light.survey_percent AS "surveyPercent",
         (SELECT count(*)::int FROM light_survey_point WHERE survey_id = light.survey_id) AS readings,
         (SELECT max(slot_light.error) FROM slot_light JOIN slot ON slot.id = slot_light.slot_id
           WHERE survey_id = light.survey_id AND NOT measured AND slot.row <= rack.rows AND slot."column" <= rack.columns) AS "widestError",
         light.lamp_percent AS "lampPercent", light.lamp_set_at AS "lampSetAt", light.moved, light.moved_at AS "movedAt",
         rack.depth_mm - coalesce(light.depth_then_mm, rack.depth_mm) AS "deeperMm", light.other_lamp AS "otherLamp"
    FROM rack JOIN rack_light_now AS light ON light.rack_id = rack.id
   WHERE rack.id = $1`;

/** How the light on a rack is known; null when it was never measured. */
export async function rackLight(pool: pg.Pool, rackId: string): Promise<RackLight | null> {
  return (await pool.query<RackLight>(query, [rackId])).rows[0] ?? null;
}
