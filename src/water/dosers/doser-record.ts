import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Calibration, ContainerLevel, DoserPlan, DoserRecord } from './reckoning.rules.ts';

/** A doser with all that its days are reckoned from. */
export interface Doser {
  id: string;
  name: string;
  systemId: string;
  systemName: string;
  volumeL: number;
  timeZone: string;
  removed: boolean;
  reservoirL: number | null;
  holds: string;
  /** What was noted of its container: litres a day by the books, and when it was filled with how much. */
  useLPerDay: number | null;
  filledAtMs: number | null;
  filledL: number | null;
  strengthCode: string | null;
  strength: number | null;
  plans: (DoserPlan & { id: string; substance: string; by: string | null; reason: string })[];
  calibrations: (Calibration & {
    id: string;
    ml: number;
    runs: number;
    againDays: number | null;
    by: string | null;
    note: string;
  })[];
  levels: (ContainerLevel & { id: string; by: string | null })[];
  off: DoserRecord['off'];
}

const ms = (column: string) => `round(extract(epoch FROM ${column}) * 1000)`;

const query = `
  SELECT equipment.id, equipment.name, system.id AS "systemId", system.name AS "systemName", system.volume_l AS "volumeL",
         site.time_zone AS "timeZone", equipment.removed_at IS NOT NULL OR system.retired_at IS NOT NULL AS removed,
         reservoir_l AS "reservoirL", holds, use_l_per_day AS "useLPerDay", ${ms('filled_at')}::float8 AS "filledAtMs", filled_l AS "filledL", strength_code AS "strengthCode", strength,
         coalesce((SELECT json_agg(json_build_object('id', plan.id, 'fromMs', ${ms('from_at')}, 'untilMs', ${ms('until_at')}, 'perDay', per_day,
                   'unit', plan.unit, 'substance', substance, 'by', account.name, 'reason', reason) ORDER BY from_at)
                     FROM doser_plan AS plan LEFT JOIN account ON account.id = plan.account_id WHERE equipment_id = equipment.id AND voided_at IS NULL), '[]') AS plans,
         coalesce((SELECT json_agg(json_build_object('id', one.id, 'ms', ${ms('at')}, 'mlPer', ml / runs, 'per', per, 'ml', ml, 'runs', runs,
                   'againDays', again_days, 'by', account.name, 'note', note) ORDER BY at)
                     FROM doser_calibration AS one LEFT JOIN account ON account.id = one.account_id WHERE equipment_id = equipment.id AND voided_at IS NULL), '[]') AS calibrations,
         coalesce((SELECT json_agg(json_build_object('id', level.id, 'ms', ${ms('at')}, 'seenL', seen_l, 'afterL', after_l, 'by', account.name) ORDER BY at)
                     FROM container_level AS level LEFT JOIN account ON account.id = level.account_id WHERE equipment_id = equipment.id), '[]') AS levels,
         coalesce((SELECT json_agg(json_build_object('fromMs', ${ms('off_at')}, 'untilMs', ${ms('seen_running_at')}) ORDER BY off_at)
                     FROM switched_off WHERE equipment_id = equipment.id AND voided_at IS NULL), '[]') AS off
    FROM equipment JOIN system ON system.id = equipment.system_id JOIN site ON site.id = system.site_id
   WHERE equipment.kind = 'doser'`;

/** A doser with its plans, calibrations, levels, and the times it was off. One query. @throws Refusal 404 */
export async function readDoser(reader: SqlReader, id: string): Promise<Doser> {
  const [doser] = (await reader.query<Doser>(`${query} AND equipment.id = $1::text::uuid`, [id])).rows;
  if (doser === undefined) throw notFound('This doser');
  return doser;
}

/** Dosers by their ids. One query. */
export async function readDosers(reader: SqlReader, ids: readonly string[]): Promise<Doser[]> {
  if (ids.length === 0) return [];
  return (await reader.query<Doser>(`${query} AND equipment.id = ANY($1::text[]::uuid[])`, [ids])).rows;
}

/** The dosers that run by a plan, or did. One query. */
export async function runningDosers(reader: SqlReader): Promise<string[]> {
  const { rows } = await reader.query<{ id: string }>(
    `SELECT equipment.id FROM equipment JOIN system ON system.id = equipment.system_id
      WHERE equipment.kind = 'doser' AND equipment.removed_at IS NULL AND system.retired_at IS NULL
        AND EXISTS (SELECT 1 FROM doser_plan WHERE equipment_id = equipment.id) ORDER BY equipment.id`,
    [],
  );
  return rows.map(({ id }) => id);
}

/** The record that a doser's days are reckoned from. */
export const recordOf = ({ plans, calibrations, levels, off, reservoirL }: Doser): DoserRecord => ({
  plans,
  calibrations,
  levels,
  off,
  capacityL: reservoirL,
});
