import type pg from 'pg';
import { dayOf } from '../../science/numeric/time.ts';
import type { Span } from '../../water/record/span.ts';
import { sqlMs, timeOf } from '../../water/record/times.ts';
import type { MoveFact } from './types.ts';

/** What systems that share a room, a circuit or an instrument lose or gain together. */
const codes = ['ph', 'temperature', 'salinity', 'alkalinity', 'oxygen'];

// Beside the newest value of the last day the one of the same hour on each of ten days before, since pH, oxygen and
// temperature swing with the day. By the index of readings, a fixed number of look-ups a system.
const moveQuery = `
  SELECT system.id AS "systemId", system.site_id AS "siteId", system.name, code, last.id AS "readingId", ${sqlMs('last.at')}, last.value, last.uncertainty AS u,
         last.kit_id AS "kitId", coalesce(kit.label, '') AS "kitLabel", coalesce(method.is_probe OR method.every_minutes IS NOT NULL, false) AS probe,
         (SELECT date_part('epoch', max(check_reading.at)) * 1000 FROM check_reading WHERE check_reading.kit_id = kit.id AND voided_at IS NULL AND check_reading.at <= $1) AS "checkedMs",
         before.values AS before,
         coalesce((SELECT array_agg(DISTINCT circuit.name ORDER BY circuit.name) FROM equipment JOIN circuit ON circuit.id = equipment.circuit_id
                    WHERE equipment.system_id = system.id AND equipment.removed_at IS NULL), '{}') AS circuits
    FROM system CROSS JOIN unnest($2::text[]) AS code
    JOIN LATERAL (SELECT id, at, value, uncertainty, kit_id, method_id FROM reading_with_vote
                   WHERE system_id = system.id AND quantity_code = code AND at > $1::timestamptz - interval '1 day' AND at <= $1
                     AND voided_at IS NULL AND trust <> 'refuted' AND slot_id IS NULL AND NOT below_detection AND NOT above_scale
                   ORDER BY at DESC LIMIT 1) AS last ON true
    JOIN LATERAL (SELECT array_agg(one.value ORDER BY ago) AS values FROM generate_series(1, 10) AS ago
                    JOIN LATERAL (SELECT value FROM reading_with_vote
                                   WHERE system_id = system.id AND quantity_code = code
                                     AND at > last.at - ago * interval '24 hours' - interval '4 hours'
                                     AND at <= last.at - ago * interval '24 hours' + interval '4 hours'
                                     AND voided_at IS NULL AND trust IN ('plain', 'confirmed') AND slot_id IS NULL
                                     AND NOT below_detection AND NOT above_scale
                                   ORDER BY at DESC LIMIT 1) AS one ON true) AS before ON before.values IS NOT NULL
    LEFT JOIN kit ON kit.id = last.kit_id LEFT JOIN method ON method.id = last.method_id
   WHERE system.retired_at IS NULL
     AND ($3::uuid[] IS NULL OR system.site_id IN (SELECT site_id FROM system WHERE id = ANY($3)))
   ORDER BY system.id`;

type Row = Omit<MoveFact, 'day' | 'at' | 'checkedDay'> & { ms: number; checkedMs: number | null };

/**
 * How far each system's newest value of the last day lies off those of the same hour before, at the sites of some systems
 * (null: at all). One query.
 */
export async function loadSiteMoves(
  pool: pg.Pool,
  systemIds: readonly string[] | null,
  span: Span,
): Promise<MoveFact[]> {
  const { rows } = await pool.query<Row>(moveQuery, [span.now, codes, systemIds]);
  return rows.map(({ ms, checkedMs, ...row }) => ({
    ...row,
    ...timeOf(ms),
    checkedDay: checkedMs === null ? null : dayOf(new Date(checkedMs)),
  }));
}
