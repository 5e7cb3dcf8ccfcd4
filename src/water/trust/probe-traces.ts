import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dayMs, dayOf } from '../../science/numeric/time.ts';
import type { ProbeTrace } from './probe-doubt.rules.ts';

interface Row {
  systemId: string;
  code: string;
  methodId: string;
  kitId: string | null;
  label: string;
  selfReporting: boolean;
  u: number;
  openedAt: Date | null;
  expiresAt: Date | null;
  doubtedSince: Date | null;
  checks: { at: string; standard: number; value: number; u: number }[];
  /** Milliseconds since 1970, and values, in order of time: text is read in a tenth of the time of an array. */
  times: string;
  values: string;
}

// The newest value of each half hour of ten days. What tests by another method refuted was read off rightly: it speaks against the
// probe. What the probe itself refuted was a slip.
const query = `
  WITH thinned AS (
    SELECT DISTINCT ON (reading.system_id, reading.quantity_code, reading.method_id, reading.kit_id, half_hour)
           reading.system_id, reading.quantity_code, reading.method_id, reading.kit_id, reading.at, reading.value, reading.uncertainty,
           floor(extract(epoch FROM reading.at) / 1800) AS half_hour
      FROM (SELECT * FROM reading
             WHERE system_id = ANY($1::uuid[]) AND ($2::text[] IS NULL OR quantity_code = ANY($2::text[]))
               AND at > $3::timestamptz - interval '10 days' AND at <= $3::timestamptz
            UNION ALL
            SELECT packed.* FROM unnest($1::uuid[]) AS asked(system_id) JOIN quantity ON $2::text[] IS NULL OR quantity.code = ANY($2::text[])
             CROSS JOIN LATERAL unpacked_readings(asked.system_id, quantity.code, $3::timestamptz - interval '10 days', $3::timestamptz) AS packed
             WHERE packed.at > $3::timestamptz - interval '10 days') AS reading
      JOIN method ON method.id = reading.method_id AND (method.is_probe OR method.every_minutes IS NOT NULL)
     WHERE reading.voided_at IS NULL AND reading.slot_id IS NULL
       AND (reading.trust <> 'refuted' OR EXISTS (SELECT 1 FROM reading AS settling WHERE settling.id = reading.settled_by_id AND settling.method_id <> reading.method_id))
     ORDER BY reading.system_id, reading.quantity_code, reading.method_id, reading.kit_id, half_hour, reading.at DESC)
  SELECT trace.*, coalesce(kit.label, method.name) AS label, method.every_minutes IS NOT NULL AS "selfReporting",
         kit.opened_at AS "openedAt", kit.expires_on::timestamp AT TIME ZONE 'UTC' AS "expiresAt",
         (SELECT since FROM probe_doubt WHERE system_id = trace."systemId" AND quantity_code = trace.code AND method_id = trace."methodId"
             AND kit_id IS NOT DISTINCT FROM trace."kitId" AND since <= $3::timestamptz) AS "doubtedSince",
         coalesce((SELECT json_agg(json_build_object('at', at, 'standard', standard_value, 'value', value,
                                   'u', sqrt(method.absolute ^ 2 + (method.relative * standard_value) ^ 2)) ORDER BY at)
                     FROM check_reading WHERE kit_id = kit.id AND voided_at IS NULL AND at <= $3::timestamptz), '[]') AS checks
    FROM (SELECT system_id AS "systemId", quantity_code AS code, method_id AS "methodId", kit_id AS "kitId", max(uncertainty) AS u,
                 string_agg((extract(epoch FROM at) * 1000)::bigint::text, ' ' ORDER BY at) AS times, string_agg(value::text, ' ' ORDER BY at) AS values
            FROM thinned GROUP BY 1, 2, 3, 4) AS trace
    JOIN method ON method.id = trace."methodId" LEFT JOIN kit ON kit.id = trace."kitId"
   ORDER BY trace."systemId", trace.code, label, trace."kitId"`;

/** What each probe showed in the ten days before a time (codes null: of every quantity), whether sent or read off. One query. */
export async function probeTraces(
  reader: SqlReader,
  systemIds: readonly string[],
  codes: readonly string[] | null,
  at: Date,
): Promise<(ProbeTrace & { systemId: string })[]> {
  const { rows } = await reader.query<Row & Record<string, unknown>>(query, [systemIds, codes, at]);
  return rows.map(({ times, values, openedAt, expiresAt, doubtedSince, checks, ...row }) => ({
    ...row,
    openedDay: openedAt === null ? null : dayOf(openedAt),
    doubtedDay: doubtedSince === null ? null : dayOf(doubtedSince),
    expiresDay: expiresAt === null ? null : dayOf(expiresAt),
    checks: checks.map(({ at: checkedAt, ...check }) => ({ ...check, day: dayOf(new Date(checkedAt)) })),
    samples: samplesOf(times.split(' '), values.split(' ')),
  }));
}

const samplesOf = (times: readonly string[], values: readonly string[]): ProbeTrace['samples'] =>
  times.map((time, i) => ({ day: Number(time) / dayMs, value: Number(values[i]) }));
