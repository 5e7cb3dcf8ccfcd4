import type pg from 'pg';
import { dayOf, type KitFact, type ReadingFact } from './types.ts';

/** A kit in use, and in which systems since when. */
export interface KitUse {
  id: string;
  label: string;
  quantityCode: string;
  methodName: string;
  absolute: number;
  relative: number;
  laboratory: boolean;
  probe: boolean;
  openedAt: Date;
  expiresAt: Date | null;
  uses: number | null;
  used: number;
  lastValue: number | null;
  checks: { id: string; at: string; standard: number; value: number; u: number }[];
  /** The system in which it was first used is its home. */
  systems: { systemId: string; name: string; firstAt: string }[];
}

// Only systems that are kept; a kit that nobody used yet belongs nowhere.
const kitQuery = `
  WITH used AS (
    SELECT reading.kit_id, reading.system_id, min(reading.at) AS first_at
      FROM reading JOIN system ON system.id = reading.system_id JOIN kit ON kit.id = reading.kit_id
     WHERE kit.retired_at IS NULL AND system.retired_at IS NULL AND reading.at > $1 AND reading.at <= $2
       AND reading.voided_at IS NULL AND reading.trust <> 'refuted'
     GROUP BY reading.kit_id, reading.system_id)
  SELECT kit.id, kit.label, method.quantity_code AS "quantityCode", method.name AS "methodName", method.absolute,
         method.relative, method.laboratory <> '' AS laboratory, method.every_minutes IS NOT NULL AS probe,
         kit.opened_at AS "openedAt", kit.expires_on::timestamp AT TIME ZONE 'UTC' AS "expiresAt", kit.uses,
         (SELECT count(*) FROM reading WHERE kit_id = kit.id AND supersedes_id IS NULL AND at <= $2)::int
           + (SELECT count(*) FROM check_reading WHERE kit_id = kit.id AND at <= $2)::int AS used,
         (SELECT value FROM reading WHERE kit_id = kit.id AND at <= $2 AND voided_at IS NULL AND trust <> 'refuted'
           ORDER BY at DESC LIMIT 1) AS "lastValue",
         (SELECT json_agg(json_build_object('systemId', used.system_id, 'name', system.name, 'firstAt', used.first_at)
                          ORDER BY used.first_at, used.system_id)
            FROM used JOIN system ON system.id = used.system_id WHERE used.kit_id = kit.id) AS systems,
         coalesce((SELECT json_agg(json_build_object('id', id, 'at', at, 'standard', standard_value, 'value', value,
                                   'u', sqrt(method.absolute ^ 2 + (method.relative * standard_value) ^ 2)) ORDER BY at)
                     FROM check_reading WHERE kit_id = kit.id AND voided_at IS NULL AND at <= $2), '[]') AS checks
    FROM kit JOIN method ON method.id = kit.method_id
   WHERE kit.id IN (SELECT kit_id FROM used)`;

/** The kits in use anywhere on the farm, with their checks. */
export async function loadKitUse(pool: pg.Pool, since: Date, now: Date): Promise<KitUse[]> {
  return (await pool.query<KitUse>(kitQuery, [since, now])).rows;
}

/** The system a kit belongs to. */
export const homeOf = (kit: KitUse): string => kit.systems[0]?.systemId ?? '';

/** A kit with the readings, by any kit, of the water it is used in; `middle` of the band its home keeps, if any. */
export function kitFact(
  kit: KitUse,
  readings: ReadonlyMap<string, ReadonlyMap<string, readonly ReadingFact[]>>,
  middle: number | null,
): KitFact {
  const { id, label, quantityCode, methodName, openedAt, expiresAt, uses, used, laboratory, probe } = kit;
  return {
    id,
    label,
    quantityCode,
    methodName,
    u: Math.hypot(kit.absolute, kit.relative * (kit.lastValue ?? middle ?? 0)),
    expiresDay: expiresAt === null ? null : dayOf(expiresAt),
    uses,
    used,
    laboratory,
    probe,
    openedDay: dayOf(openedAt),
    openedAt: openedAt.toISOString(),
    checks: kit.checks.map((check) => ({ ...check, ...moment(check.at) })),
    systems: kit.systems.map(({ systemId, name, firstAt }) => ({
      systemId,
      name,
      firstDay: dayOf(new Date(firstAt)),
      readings: [...(readings.get(systemId)?.get(quantityCode) ?? [])],
    })),
  };
}

function moment(text: string) {
  const at = new Date(text);
  return { at: at.toISOString(), day: dayOf(at) };
}
