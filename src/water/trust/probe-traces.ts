import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dayMs, dayOf } from '../../science/numeric/time.ts';
import type { ProbeTrace } from './probe-doubt.rules.ts';

/** Days that a trace reaches back. */
const traceDays = 10;
/** Of each half hour the newest value is taken. */
const binMs = dayMs / 48;

/** What one probe showed in one system, thinned: time (milliseconds since 1970), value and its standard uncertainty; oldest first. */
export interface ProbeSamples {
  systemId: string;
  code: string;
  methodId: string;
  kitId: string | null;
  times: readonly number[];
  values: readonly number[];
  us: readonly number[];
}

// What tests by another method refuted was read off rightly: it speaks against the probe. What the probe itself refuted was a slip.
// Text is read in a tenth of the time of an array.
const samplesQuery = `
  WITH thinned AS (
    SELECT DISTINCT ON (reading.system_id, reading.quantity_code, reading.method_id, reading.kit_id, half_hour)
           reading.system_id, reading.quantity_code, reading.method_id, reading.kit_id, reading.at, reading.value, reading.uncertainty,
           floor(extract(epoch FROM reading.at) / 1800) AS half_hour
      FROM (SELECT * FROM reading
             WHERE system_id = ANY($1::uuid[]) AND ($2::text[] IS NULL OR quantity_code = ANY($2::text[])) AND at > $3::timestamptz AND at <= $4::timestamptz
            UNION ALL
            SELECT packed.* FROM unnest($1::uuid[]) AS asked(system_id) JOIN quantity ON $2::text[] IS NULL OR quantity.code = ANY($2::text[])
             CROSS JOIN LATERAL unpacked_readings(asked.system_id, quantity.code, $3::timestamptz, $4::timestamptz) AS packed
             WHERE packed.at > $3::timestamptz) AS reading
      JOIN method ON method.id = reading.method_id AND (method.is_probe OR method.every_minutes IS NOT NULL)
     WHERE reading.voided_at IS NULL AND reading.slot_id IS NULL
       AND (reading.trust <> 'refuted' OR EXISTS (SELECT 1 FROM reading AS settling WHERE settling.id = reading.settled_by_id AND settling.method_id <> reading.method_id))
     ORDER BY reading.system_id, reading.quantity_code, reading.method_id, reading.kit_id, half_hour, reading.at DESC)
  SELECT system_id AS "systemId", quantity_code AS code, method_id AS "methodId", kit_id AS "kitId",
         string_agg((extract(epoch FROM at) * 1000)::bigint::text, ' ' ORDER BY at) AS times, string_agg(value::text, ' ' ORDER BY at) AS values,
         string_agg(uncertainty::text, ' ' ORDER BY at) AS us
    FROM thinned GROUP BY 1, 2, 3, 4`;

interface SamplesRow {
  systemId: string;
  code: string;
  methodId: string;
  kitId: string | null;
  times: string;
  values: string;
  us: string;
}

/** Where the traces that end at a time begin: what was shown at it is no part of them. */
const beginOf = (at: Date) => new Date(at.getTime() - traceDays * dayMs);

/**
 * What each probe showed in the ten days before a time (codes null: of every quantity), whether sent or read off. One query.
 * @param from only from the half hour of this time on
 */
export async function probeSamples(
  reader: SqlReader,
  systemIds: readonly string[],
  codes: readonly string[] | null,
  at: Date,
  from: Date | null = null,
): Promise<ProbeSamples[]> {
  // The half hour begins with the time itself, and what is asked for is later than the time that is said.
  const binStart = from === null ? 0 : Math.floor(from.getTime() / binMs) * binMs - 1;
  const since = new Date(Math.max(beginOf(at).getTime(), binStart));
  const { rows } = await reader.query<SamplesRow & Record<string, unknown>>(samplesQuery, [
    ...[systemIds, codes],
    ...[since, at],
  ]);
  return rows.map(({ times, values, us, ...source }) => ({
    ...source,
    times: numbersOf(times),
    values: numbersOf(values),
    us: numbersOf(us),
  }));
}

const numbersOf = (text: string): number[] => text.split(' ').map(Number);

/**
 * Kept samples of one system with those that were read anew from the half hour of a time on, and without what has become
 * older than ten days.
 */
export function renewedSamples(
  kept: readonly ProbeSamples[],
  anew: readonly ProbeSamples[],
  { from, at }: { from: Date; at: Date },
): ProbeSamples[] {
  const [begin, until] = [beginOf(at).getTime(), Math.floor(from.getTime() / binMs) * binMs];
  const sourceOf = ({ code, methodId, kitId }: ProbeSamples) => `${code} ${methodId} ${kitId ?? ''}`;
  const news = new Map(anew.map((one) => [sourceOf(one), one]));
  const known = new Set(kept.map(sourceOf));
  const joined = kept.flatMap((one) => {
    const first = one.times.findIndex((time) => time > begin);
    const cut = one.times.findIndex((time) => time >= until);
    const [start, end] = [first === -1 ? one.times.length : first, cut === -1 ? one.times.length : cut];
    const more = news.get(sourceOf(one));
    const join = (of: 'times' | 'values' | 'us') => [
      ...one[of].slice(start, Math.max(start, end)),
      ...(more?.[of] ?? []),
    ];
    const times = join('times');
    return times.length === 0 ? [] : [{ ...one, times, values: join('values'), us: join('us') }];
  });
  return [...joined, ...anew.filter((one) => !known.has(sourceOf(one)))];
}

interface SourceRow {
  label: string;
  selfReporting: boolean;
  openedAt: Date | null;
  expiresAt: Date | null;
  doubtedSince: Date | null;
  checks: { at: string; standard: number; value: number; u: number }[];
  position: number;
}

const sourceQuery = `
  SELECT asked.position::int, coalesce(kit.label, method.name) AS label, method.every_minutes IS NOT NULL AS "selfReporting",
         kit.opened_at AS "openedAt", kit.expires_on::timestamp AT TIME ZONE 'UTC' AS "expiresAt",
         (SELECT since FROM probe_doubt WHERE system_id = asked.system_id AND quantity_code = asked.code AND method_id = asked.method_id
             AND kit_id IS NOT DISTINCT FROM asked.kit_id AND since <= $5::timestamptz) AS "doubtedSince",
         coalesce((SELECT json_agg(json_build_object('at', at, 'standard', standard_value, 'value', value,
                                   'u', sqrt(method.absolute ^ 2 + (method.relative * standard_value) ^ 2)) ORDER BY at)
                     FROM check_reading WHERE kit_id = kit.id AND voided_at IS NULL AND at <= $5::timestamptz), '[]') AS checks
    FROM unnest($1::uuid[], $2::text[], $3::uuid[], $4::uuid[]) WITH ORDINALITY AS asked(system_id, code, method_id, kit_id, position)
    JOIN method ON method.id = asked.method_id LEFT JOIN kit ON kit.id = asked.kit_id
   ORDER BY asked.system_id, asked.code, label, asked.kit_id`;

/** Samples with all that is known of what showed them at a time: traces, by system, quantity and name. One query. */
export async function tracesOf(
  reader: SqlReader,
  samples: readonly ProbeSamples[],
  at: Date,
): Promise<(ProbeTrace & { systemId: string })[]> {
  if (samples.length === 0) return [];
  const { rows } = await reader.query<SourceRow & Record<string, unknown>>(sourceQuery, [
    samples.map(({ systemId }) => systemId),
    samples.map(({ code }) => code),
    samples.map(({ methodId }) => methodId),
    samples.map(({ kitId }) => kitId),
    at,
  ]);
  return rows.flatMap(({ position, openedAt, expiresAt, doubtedSince, checks, label, selfReporting }) => {
    const one = samples[position - 1];
    if (one === undefined) return [];
    const { systemId, code, methodId, kitId, times, values, us } = one;
    return [
      {
        ...{ systemId, code, methodId, kitId, label, selfReporting },
        u: us.reduce((largest, u) => Math.max(largest, u), 0),
        openedDay: openedAt === null ? null : dayOf(openedAt),
        doubtedDay: doubtedSince === null ? null : dayOf(doubtedSince),
        expiresDay: expiresAt === null ? null : dayOf(expiresAt),
        checks: checks.map(({ at: checkedAt, ...check }) => ({ ...check, day: dayOf(new Date(checkedAt)) })),
        samples: times.map((time, i) => ({ day: time / dayMs, value: values[i] ?? Number.NaN })),
      },
    ];
  });
}

/** What each probe showed in the ten days before a time (codes null: of every quantity). Two queries. */
export async function probeTraces(
  reader: SqlReader,
  systemIds: readonly string[],
  codes: readonly string[] | null,
  at: Date,
): Promise<(ProbeTrace & { systemId: string })[]> {
  return tracesOf(reader, await probeSamples(reader, systemIds, codes, at), at);
}
