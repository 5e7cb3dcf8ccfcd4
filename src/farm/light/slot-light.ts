import type pg from 'pg';
import { hoursOf, rackStands, standOf } from '../racks/mounting.ts';
import {
  type LampSetting,
  type LightThen,
  lightAt,
  type SlotHistory,
  type SurveyedLight,
} from './slot-light.rules.ts';

interface SlotRow {
  slotId: string;
  row: number;
  rackId: string;
  rows: number;
  slotDepthMm: number | null;
  lampId: string | null;
  litHours: number | null;
  rampHours: number | null;
}

const slotQuery = `
  SELECT slot.id AS "slotId", slot.row, slot.rack_id AS "rackId", rack.rows, rack.slot_depth_mm AS "slotDepthMm",
         rack.lamp_id AS "lampId", lamp.lit_hours AS "litHours", lamp.ramp_hours AS "rampHours"
    FROM slot JOIN rack ON rack.id = slot.rack_id LEFT JOIN lamp ON lamp.id = rack.lamp_id
   WHERE slot.id = ANY($1::uuid[])`;

interface SurveyRow {
  at: Date;
  percent: number | null;
  slotIds: string;
  pars: string;
  errors: string;
}

// One row a survey, its slots column by column: a farm has hundreds of thousands of them.
const surveyQuery = `
  WITH counted AS MATERIALIZED (
    SELECT survey.id, survey.measured_at, survey.lamp_percent FROM light_survey AS survey
     WHERE survey.rack_id IN (SELECT rack_id FROM slot WHERE id = ANY($1::uuid[]))
       AND survey.voided_at IS NULL AND survey.measured_at <= $2
       AND ($3::timestamptz IS NULL OR survey.measured_at >= coalesce(
         (SELECT max(measured_at) FROM light_survey
           WHERE rack_id = survey.rack_id AND voided_at IS NULL AND measured_at <= $3), '-infinity')))
  SELECT counted.measured_at AS at, counted.lamp_percent AS percent, string_agg(slot_light.slot_id::text, ' ') AS "slotIds",
         string_agg(slot_light.par::text, ' ') AS pars, string_agg(slot_light.error::text, ' ') AS errors
    FROM counted JOIN slot_light ON slot_light.survey_id = counted.id
   WHERE slot_light.slot_id = ANY($1::uuid[])
   GROUP BY counted.id, counted.measured_at, counted.lamp_percent
   ORDER BY counted.measured_at, counted.id`;

const settingQuery = `
  SELECT lamp_id AS "lampId", at, percent, lit_hours AS "litHours", ramp_hours AS "rampHours"
    FROM lamp_setting WHERE lamp_id = ANY($1::uuid[]) AND at <= $2 ORDER BY at`;

/**
 * All that is known until `until` of the light at these slots, of surveys what held at `since` and later; four
 * queries, however many slots.
 */
export async function slotHistories(
  pool: pg.Pool,
  slotIds: readonly string[],
  until: Date,
  since: Date | null = null,
): Promise<Map<string, SlotHistory>> {
  if (slotIds.length === 0) return new Map();
  const [slots, stands] = await Promise.all([
    pool.query<SlotRow>(slotQuery, [slotIds]),
    rackStands(pool, slotIds, until),
  ]);
  const lamps = [...slots.rows, ...[...stands.values()].flat()];
  const lampIds = [...new Set(lamps.map(({ lampId }) => lampId).filter((id) => id !== null))];
  const [surveys, settings] = await Promise.all([
    pool.query<SurveyRow>(surveyQuery, [slotIds, until, since]),
    pool.query<LampSetting & { lampId: string }>(settingQuery, [lampIds, until]),
  ]);
  const surveysOf = surveysBySlot(surveys.rows);
  const bySetting = Map.groupBy(settings.rows, (row) => row.lampId);
  const settingsOf = (lampId: string | null) => (lampId === null ? undefined : bySetting.get(lampId)) ?? [];
  return new Map(
    slots.rows.map((slot) => {
      const hung = (stands.get(slot.rackId) ?? []).map((stand) => standOf(stand, slot, settingsOf));
      const { slotId, rackId } = slot;
      const now = hung.at(-1) ?? { settings: settingsOf(slot.lampId), hours: hoursOf(slot) };
      const lit = { settings: now.settings, hours: now.hours };
      const history = { slotId, rackId, surveys: surveysOf.get(slotId) ?? [], ...lit };
      return [slotId, hung.length === 0 ? history : { ...history, stands: hung }];
    }),
  );
}

function surveysBySlot(rows: readonly SurveyRow[]): Map<string, SurveyedLight[]> {
  const bySlot = new Map<string, SurveyedLight[]>();
  for (const { at, percent, slotIds, pars, errors } of rows) {
    const [par, error] = [pars.split(' '), errors.split(' ')];
    for (const [i, slotId] of slotIds.split(' ').entries()) {
      const list = bySlot.get(slotId) ?? [];
      list.push({ at, percent, par: Number(par[i]), error: Number(error[i]) });
      bySlot.set(slotId, list);
    }
  }
  return bySlot;
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
