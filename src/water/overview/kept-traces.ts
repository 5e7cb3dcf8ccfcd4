import type pg from 'pg';
import { KeptByMarks } from '../../platform/database/kept-by-marks.ts';
import type { Mark } from '../../platform/database/marks.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { memoize } from '../../platform/memoize.ts';
import { votingReadings } from '../probe-days/voting.ts';

/** One test of a trace, as it was read: not corrected for its kit. */
export interface TracePoint {
  at: Date;
  value: number;
  below: boolean;
  above: boolean;
  uncertainty: number;
  kitId: string | null;
  trust: string;
}

/** The tests of one quantity in one water between two moments, the oldest first. */
export interface Trace {
  /** "system quantity" */
  key: string;
  /** Left out itself. */
  from: Date;
  /** Included. */
  to: Date;
  /** When the first reading after that was made, which was there already; null without one. */
  next: Date | null;
  /** Which of its probes had no vote, and since when. */
  doubts: string;
  points: readonly TracePoint[];
}

export const traceKey = (systemId: string, code: string): string => `${systemId} ${code}`;

const doubtWords = `string_agg(concat_ws(' ', method_id, kit_id, since), ',' ORDER BY method_id, kit_id, since)`;

const doubtsQuery = `
  SELECT system_id || ' ' || quantity_code AS key, ${doubtWords} AS doubts
    FROM probe_doubt WHERE system_id = ANY($1::text[]::uuid[]) GROUP BY system_id, quantity_code`;

// At most one test in six hours: probes that report each minute are drawn no finer than that. One that waits for its repeat hides
// none that is relied on. Each trace comes as one row of lists: a row for each test took longer to take in than to find.
const listOf = (value: string) => `string_agg(${value}, ',' ORDER BY at, trust = 'unconfirmed')`;

/** Exported for a test, which sees to it that each table leaves marks. $1: systems, $2: quantities, $3 and $4: from and to. */
export const tracesQuery = `
  WITH drawn AS (
    SELECT DISTINCT ON (system_id, quantity_code, date_bin('6 hours', at, TIMESTAMPTZ '2000-01-01'), trust = 'unconfirmed')
           system_id, quantity_code, at, value, below_detection, above_scale, uncertainty, kit_id, trust
      ${votingReadings({ systems: '$1::text[]', codes: '$2', since: '$3', until: '$4' })}
     WHERE voided_at IS NULL AND trust <> 'refuted'
     ORDER BY system_id, quantity_code, date_bin('6 hours', at, TIMESTAMPTZ '2000-01-01'), trust = 'unconfirmed', at DESC),
  gathered AS (
    SELECT system_id, quantity_code, ${listOf('(extract(epoch FROM at) * 1000)::bigint::text')} AS times, ${listOf('value::text')} AS values,
           ${listOf('uncertainty::text')} AS uncertainties, ${listOf(`CASE WHEN below_detection THEN 'b' WHEN above_scale THEN 'a' ELSE '' END`)} AS bounds,
           ${listOf(`coalesce(kit_id::text, '')`)} AS kits, ${listOf('trust::text')} AS trusts
      FROM drawn GROUP BY system_id, quantity_code)
  SELECT asked.system_id || ' ' || wanted.code AS key, times, values, uncertainties, bounds, kits, trusts,
         (SELECT at FROM reading WHERE reading.system_id = asked.system_id AND reading.quantity_code = wanted.code AND at > $4 ORDER BY at LIMIT 1) AS next,
         (SELECT ${doubtWords} FROM probe_doubt AS doubt WHERE doubt.system_id = asked.system_id AND doubt.quantity_code = wanted.code) AS doubts
    FROM unnest($1::text[]::uuid[]) AS asked(system_id) CROSS JOIN unnest($2::text[]) AS wanted(code)
    LEFT JOIN gathered ON gathered.system_id = asked.system_id AND gathered.quantity_code = wanted.code`;

interface Row {
  key: string;
  /** Lists, all in one order; null without a test. */
  times: string | null;
  values: string;
  uncertainties: string;
  bounds: string;
  kits: string;
  trusts: string;
  next: Date | null;
  doubts: string | null;
}

interface Span {
  from: Date;
  to: Date;
}

function pointsOf({ times, ...row }: Row): TracePoint[] {
  if (times === null) return [];
  const [values, uncertainties, bounds] = [row.values, row.uncertainties, row.bounds].map((list) =>
    list.split(','),
  );
  const [kits, trusts] = [row.kits, row.trusts].map((list) => list.split(','));
  return times.split(',').map((time, i) => ({
    at: new Date(Number(time)),
    value: Number(values?.[i]),
    below: bounds?.[i] === 'b',
    above: bounds?.[i] === 'a',
    uncertainty: Number(uncertainties?.[i]),
    kitId: kits?.[i] || null,
    trust: trusts?.[i] ?? '',
  }));
}

/** Traces read anew, by their keys: those of each of these quantities in each of these systems. One query. */
export async function readTraces(
  reader: SqlReader,
  systemIds: readonly string[],
  codes: readonly string[],
  span: Span,
): Promise<Map<string, Trace>> {
  const { rows } = await reader.query<Row>(tracesQuery, [[...systemIds], [...codes], span.from, span.to]);
  return new Map(
    rows.map((row) => [
      row.key,
      { key: row.key, ...span, next: row.next, doubts: row.doubts ?? '', points: pointsOf(row) },
    ]),
  );
}

/** A reading stays in its water and of its quantity, and any change of one is marked. */
function isStale(key: string, _: Trace, { part, systemId, code }: Mark): boolean {
  if (part === 'all') return true;
  if (part !== 'reading') return false;
  const [ofSystem, ofCode] = key.split(' ');
  return (systemId === null || systemId === ofSystem) && (code === null || code === ofCode);
}

/** Traces kept at most; own choice. One of a probe takes some 40 kB, one of daily tests some 10. */
const mostKept = 1000;

const keptOf = memoize((pool: pg.Pool) => new KeptByMarks<Trace>(pool, { isStale, most: mostKept }));

/** Time goes on: a later span is served as long as no reading that was there already has come into it. */
const serves =
  ({ from, to }: Span, doubts: ReadonlyMap<string, string>) =>
  (trace: Trace): boolean =>
    trace.from <= from &&
    trace.to <= to &&
    (trace.next === null || trace.next > to) &&
    trace.doubts === (doubts.get(trace.key) ?? '');

/**
 * The traces of these quantities in these systems between two moments, by their keys. What did not change since it was last
 * asked for is not read again. Two small queries then, and one for what changed.
 */
export async function tracesOf(
  pool: pg.Pool,
  systemIds: readonly string[],
  codes: readonly string[],
  span: Span,
): Promise<Map<string, readonly TracePoint[]>> {
  const { rows } = await pool.query<{ key: string; doubts: string }>(doubtsQuery, [[...systemIds]]);
  const doubts = new Map(rows.map((row) => [row.key, row.doubts]));
  const keys = systemIds.flatMap((systemId) => codes.map((code) => traceKey(systemId, code)));
  const load = (missing: readonly string[]) => {
    const parts = missing.map((key) => key.split(' ') as [string, string]);
    const of = (n: 0 | 1) => [...new Set(parts.map((part) => part[n]))];
    return readTraces(pool, of(0), of(1), span);
  };
  const traces = await keptOf(pool).of(keys, load, serves(span, doubts));
  return new Map(
    [...traces].map(([key, { from, points }]) => [
      key,
      from < span.from ? points.filter(({ at }) => at > span.from) : points,
    ]),
  );
}
