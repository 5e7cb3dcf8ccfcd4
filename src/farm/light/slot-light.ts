import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { type RackMounting, rackMountings } from '../racks/mounting.ts';
import { slotDepthMm } from '../racks/slots.rules.ts';
import type { LampSetting, LitHours } from './lamp-settings.rules.ts';
import type { SlotMounting } from './remounting.rules.ts';
import {
  type LightEstimate,
  lightAt,
  type SlotLightHistory,
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
  /** "1" for each slot in which the meter stood. */
  measured: string;
}

// One row a survey with its slots in three lists: one row a slot would be hundreds of thousands of rows.
const surveyQuery = `
  WITH valid AS MATERIALIZED (
    SELECT survey.id, survey.measured_at, survey.lamp_percent FROM light_survey AS survey
     WHERE survey.rack_id IN (SELECT rack_id FROM slot WHERE id = ANY($1::uuid[]))
       AND survey.voided_at IS NULL AND survey.measured_at <= $2
       AND ($3::timestamptz IS NULL OR survey.measured_at >= coalesce(
         (SELECT max(measured_at) FROM light_survey
           WHERE rack_id = survey.rack_id AND voided_at IS NULL AND measured_at <= $3), '-infinity')))
  SELECT valid.measured_at AS at, valid.lamp_percent AS percent, string_agg(slot_light.slot_id::text, ' ') AS "slotIds",
         string_agg(slot_light.par::text, ' ') AS pars, string_agg(slot_light.error::text, ' ') AS errors,
         string_agg(CASE WHEN slot_light.measured THEN '1' ELSE '0' END, '') AS measured
    FROM valid JOIN slot_light ON slot_light.survey_id = valid.id
   WHERE slot_light.slot_id = ANY($1::uuid[])
   GROUP BY valid.id, valid.measured_at, valid.lamp_percent
   ORDER BY valid.measured_at, valid.id`;

const settingQuery = `
  SELECT lamp_id AS "lampId", at, percent, lit_hours AS "litHours", ramp_hours AS "rampHours"
    FROM lamp_setting WHERE lamp_id = ANY($1::uuid[]) AND at <= $2 ORDER BY at`;

/** The hours of the lamps in a row; null where it has none. */
const lampHours = ({ litHours, rampHours }: Pick<RackMounting, 'litHours' | 'rampHours'>): LitHours | null =>
  litHours === null || rampHours === null ? null : { litHours, rampHours };

type SettingsOfLamp = (lampId: string | null) => readonly LampSetting[];

/** A mounting of the rack, as it was for one of its slots. */
function slotMounting(mounting: RackMounting, slot: SlotRow, settingsOfLamp: SettingsOfLamp): SlotMounting {
  const { at, place, lampId } = mounting;
  const depthMm = slotDepthMm({ ...mounting, ...slot }, slot.row);
  return { at, place, lampId, depthMm, settings: settingsOfLamp(lampId), hours: lampHours(mounting) };
}

/**
 * Everything known until `until` of the light at these slots; with `since`, only the surveys in force from then on.
 * Four queries, however many slots.
 */
export async function slotLightHistories(
  reader: SqlReader,
  slotIds: readonly string[],
  until: Date,
  since: Date | null = null,
): Promise<Map<string, SlotLightHistory>> {
  if (slotIds.length === 0) return new Map();
  const [slots, mountings] = await Promise.all([
    reader.query<SlotRow>(slotQuery, [slotIds]),
    rackMountings(reader, slotIds, until),
  ]);
  const lit = [...slots.rows, ...[...mountings.values()].flat()];
  const lampIds = [...new Set(lit.map(({ lampId }) => lampId).filter((id) => id !== null))];
  const [surveys, settings] = await Promise.all([
    reader.query<SurveyRow>(surveyQuery, [slotIds, until, since]),
    reader.query<LampSetting & { lampId: string }>(settingQuery, [lampIds, until]),
  ]);
  const surveysOfSlot = surveysBySlot(surveys.rows);
  const byLamp = Map.groupBy(settings.rows, (row) => row.lampId);
  const settingsOfLamp = (lampId: string | null) => (lampId === null ? undefined : byLamp.get(lampId)) ?? [];
  return new Map(
    slots.rows.map((slot) => {
      const { slotId, rackId } = slot;
      const mounted = (mountings.get(rackId) ?? []).map((one) => slotMounting(one, slot, settingsOfLamp));
      const now = mounted.at(-1) ?? { settings: settingsOfLamp(slot.lampId), hours: lampHours(slot) };
      const lamps = { settings: now.settings, hours: now.hours };
      const history = { slotId, rackId, surveys: surveysOfSlot.get(slotId) ?? [], ...lamps };
      return [slotId, mounted.length === 0 ? history : { ...history, mountings: mounted }];
    }),
  );
}

/** The surveys of each slot, oldest first. */
function surveysBySlot(rows: readonly SurveyRow[]): Map<string, SurveyedLight[]> {
  const bySlot = new Map<string, SurveyedLight[]>();
  for (const { at, percent, slotIds, pars, errors, measured } of rows) {
    const [par, error] = [pars.split(' '), errors.split(' ')];
    for (const [i, slotId] of slotIds.split(' ').entries()) {
      const list = bySlot.get(slotId) ?? [];
      list.push({ at, percent, par: Number(par[i]), error: Number(error[i]), measured: measured[i] === '1' });
      bySlot.set(slotId, list);
    }
  }
  return bySlot;
}

/** The light at each of these slots at a time, as known by then; a slot that was never surveyed is left out. */
export async function slotLightAt(
  reader: SqlReader,
  slotIds: readonly string[],
  at: Date,
): Promise<Map<string, LightEstimate>> {
  const histories = await slotLightHistories(reader, slotIds, at);
  const known = [...histories].map(([slotId, history]) => [slotId, lightAt(history, at)] as const);
  return new Map(known.filter((entry): entry is [string, LightEstimate] => entry[1] !== null));
}
