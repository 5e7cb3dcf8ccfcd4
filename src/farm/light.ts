import type pg from 'pg';
import {
  type LampSetting,
  type LightThen,
  lightAt,
  type SlotHistory,
  type SurveyedLight,
} from './light.rules.ts';

interface SlotRow {
  slotId: string;
  rackId: string;
  lampId: string | null;
  litHours: number | null;
  rampHours: number | null;
}

const slotQuery = `
  SELECT slot.id AS "slotId", slot.rack_id AS "rackId", rack.lamp_id AS "lampId",
         lamp.lit_hours AS "litHours", lamp.ramp_hours AS "rampHours"
    FROM slot JOIN rack ON rack.id = slot.rack_id LEFT JOIN lamp ON lamp.id = rack.lamp_id
   WHERE slot.id = ANY($1::uuid[])`;

const surveyQuery = `
  SELECT slot_light.slot_id AS "slotId", survey.measured_at AS at, survey.lamp_percent AS percent,
         slot_light.par, slot_light.error
    FROM slot_light JOIN light_survey AS survey ON survey.id = slot_light.survey_id
   WHERE slot_light.slot_id = ANY($1::uuid[]) AND survey.voided_at IS NULL AND survey.measured_at <= $2
   ORDER BY survey.measured_at, survey.id`;

const settingQuery = `
  SELECT lamp_id AS "lampId", at, percent, lit_hours AS "litHours", ramp_hours AS "rampHours"
    FROM lamp_setting WHERE lamp_id = ANY($1::uuid[]) AND at <= $2 ORDER BY at`;

/** All that is known until `until` of the light at these slots; three queries, however many slots. */
export async function slotHistories(
  pool: pg.Pool,
  slotIds: readonly string[],
  until: Date,
): Promise<Map<string, SlotHistory>> {
  if (slotIds.length === 0) return new Map();
  const slots = (await pool.query<SlotRow>(slotQuery, [slotIds])).rows;
  const lampIds = [...new Set(slots.map((slot) => slot.lampId).filter((id) => id !== null))];
  const [surveys, settings] = await Promise.all([
    pool.query<SurveyedLight & { slotId: string }>(surveyQuery, [slotIds, until]),
    pool.query<LampSetting & { lampId: string }>(settingQuery, [lampIds, until]),
  ]);
  const surveysOf = Map.groupBy(surveys.rows, (row) => row.slotId);
  const settingsOf = Map.groupBy(settings.rows, (row) => row.lampId);
  return new Map(
    slots.map(({ slotId, rackId, lampId, litHours, rampHours }) => [
      slotId,
      {
        slotId,
        rackId,
        surveys: surveysOf.get(slotId) ?? [],
        settings: (lampId === null ? undefined : settingsOf.get(lampId)) ?? [],
        hours: litHours === null || rampHours === null ? null : { litHours, rampHours },
      },
    ]),
  );
}

/** The light at each of these slots at a time, as known by then; a slot that was never surveyed is left out. */
export async function slotLightAt(
  pool: pg.Pool,
  slotIds: readonly string[],
  at: Date,
): Promise<Map<string, LightThen>> {
  const histories = await slotHistories(pool, slotIds, at);
  const known = [...histories].map(([slotId, history]) => [slotId, lightAt(history, at)] as const);
  return new Map(known.filter((entry): entry is [string, LightThen] => entry[1] !== null));
}
