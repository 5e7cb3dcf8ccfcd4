import type pg from 'pg';
import type { Span } from './history.ts';
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
  retiredAt: Date | null;
  expiresAt: Date | null;
  uses: number | null;
  used: number;
  checks: { id: string; at: string; standard: number; value: number; u: number }[];
  /** One water by the kit before and by this one. */
  pairs: { at: string; old: number; value: number; u: number }[];
  /** The system in which it was first used is its home. */
  systems: { systemId: string; name: string; firstAt: string }[];
}

/** SQL: the first standing reading of the kit in use in one system. */
const firstUse = (systemId: string) => `
  SELECT reading.system_id, reading.at AS first_at FROM reading
   WHERE reading.kit_id = in_use.id AND reading.system_id = ${systemId} AND reading.at > $1 AND reading.at <= $2
     AND reading.voided_at IS NULL AND reading.trust <> 'refuted' AND reading.slot_id IS NULL
   ORDER BY reading.at LIMIT 1`;

/** SQL: the same in each kept system. */
const firstUses = `
  SELECT use.system_id, use.first_at FROM system CROSS JOIN LATERAL (${firstUse('system.id')}) AS use
   WHERE system.retired_at IS NULL`;

// A kit belongs to the kept system in which it was first used; one that nobody used yet belongs nowhere. A probe
// belongs to the system of its last report.
const kitQuery = `
  WITH in_use AS (
    SELECT kit.id, kit.opened_at FROM kit JOIN method ON method.id = kit.method_id
     WHERE (kit.retired_at IS NULL OR kit.retired_at > $4) AND method.every_minutes IS NULL),
  asked AS (
    SELECT id AS system_id FROM system WHERE retired_at IS NULL AND ($3::uuid[] IS NULL OR id = ANY($3))),
  seen AS (
    SELECT in_use.id, use.system_id, use.first_at FROM in_use CROSS JOIN LATERAL (${firstUses}) AS use
     WHERE $3 IS NULL
        OR EXISTS (SELECT 1 FROM asked CROSS JOIN LATERAL (${firstUse('asked.system_id')}) AS use)
    UNION ALL
    SELECT kit.id, last.system_id, kit.opened_at
      FROM kit JOIN method ON method.id = kit.method_id AND method.every_minutes IS NOT NULL
     CROSS JOIN LATERAL (
       SELECT reading.system_id FROM reading WHERE kit_id = kit.id AND at > $1 AND at <= $2 AND slot_id IS NULL
        ORDER BY at DESC LIMIT 1) AS last
     WHERE (kit.retired_at IS NULL OR kit.retired_at > $4) AND last.system_id IN (SELECT system_id FROM asked))
  SELECT kit.id, kit.label, method.quantity_code AS "quantityCode", method.name AS "methodName", method.absolute,
         method.relative, method.laboratory <> '' AS laboratory, method.every_minutes IS NOT NULL AS probe,
         kit.opened_at AS "openedAt", kit.retired_at AS "retiredAt", kit.expires_on::timestamp AT TIME ZONE 'UTC' AS "expiresAt", kit.uses,
         CASE WHEN method.every_minutes IS NULL
              THEN (SELECT count(*) FROM reading WHERE kit_id = kit.id AND supersedes_id IS NULL AND at <= $2)::int
                 + (SELECT count(*) FROM check_reading WHERE kit_id = kit.id AND at <= $2)::int
              ELSE 0 END AS used,
         (SELECT json_agg(json_build_object('systemId', seen.system_id, 'name', system.name, 'firstAt', seen.first_at)
                          ORDER BY seen.first_at, seen.system_id)
            FROM seen JOIN system ON system.id = seen.system_id WHERE seen.id = kit.id) AS systems,
         coalesce((SELECT json_agg(json_build_object('id', id, 'at', at, 'standard', standard_value, 'value', value,
                                   'u', sqrt(method.absolute ^ 2 + (method.relative * standard_value) ^ 2)) ORDER BY at)
                     FROM check_reading WHERE kit_id = kit.id AND voided_at IS NULL AND standard_value > 0 AND at <= $2), '[]') AS checks,
         coalesce((SELECT json_agg(json_build_object('at', at, 'old', old_value, 'value', value,
                                   'u', sqrt(method.absolute ^ 2 + (method.relative * old_value) ^ 2)) ORDER BY at)
                     FROM kit_pair WHERE kit_id = kit.id AND voided_at IS NULL AND at <= $2), '[]') AS pairs
    FROM kit JOIN method ON method.id = kit.method_id
   WHERE kit.id IN (SELECT id FROM seen)`;

/** The kits in use in the systems asked for (null: anywhere), with their checks, their pairs with the kit before, and every system they are used in. */
export async function loadKitUse(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  since: Date,
  span: Span,
): Promise<KitUse[]> {
  return (await pool.query<KitUse>(kitQuery, [since, span.now, systemIds, span.from])).rows;
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
  const systems = kit.systems.map(({ systemId, name, firstAt }) => ({
    systemId,
    name,
    firstDay: dayOf(new Date(firstAt)),
    readings: readings.get(systemId)?.get(quantityCode) ?? [],
  }));
  const last = systems.map((used) => used.readings.findLast((reading) => reading.kitId === id)?.value);
  return {
    id,
    label,
    quantityCode,
    methodName,
    u: Math.hypot(kit.absolute, kit.relative * (last.find((value) => value !== undefined) ?? middle ?? 0)),
    expiresDay: expiresAt === null ? null : dayOf(expiresAt),
    uses,
    used,
    laboratory,
    probe,
    openedDay: dayOf(openedAt),
    openedAt: openedAt.toISOString(),
    retiredDay: kit.retiredAt === null ? null : dayOf(kit.retiredAt),
    checks: kit.checks.map((check) => ({ ...check, ...moment(check.at) })),
    pairs: kit.pairs.map(({ at, ...pair }) => ({ ...pair, day: moment(at).day })),
    systems,
  };
}

function moment(text: string) {
  const at = new Date(text);
  return { at: at.toISOString(), day: dayOf(at) };
}
