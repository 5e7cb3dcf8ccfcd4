import type pg from 'pg';
import { daysBetween } from '../../science/numeric/time.ts';
import { reportsItself } from '../probe-days/reports-itself.ts';
import { bucketsOfProbes, countOfProbes } from './rolled.ts';
import { besideReading, type SeriesReading, seriesColumns } from './series.ts';

/** Who measures: a person, a probe by itself, or one laboratory. Sources are never joined in one line. */
export interface ReadingSource {
  kind: 'hand' | 'probe' | 'laboratory';
  /** The laboratory's name; empty for the others. */
  name: string;
}

/** How finely a source is shown: every reading, or the middle and range of each hour, day or week. */
export type Grain = 'reading' | 'hour' | 'day' | 'week';

/** Several readings of one source as one: their median with the lowest and highest; canonical. */
export interface Bucket {
  /** The beginning of the hour, day or week. */
  at: Date;
  count: number;
  value: number;
  low: number;
  high: number;
  /** More than half of them are below detection: the value is a limit. */
  below: boolean;
  /** More than half of them are beyond the scale: the value is the least that it can be. */
  above: boolean;
  unconfirmed: number;
}

/** One source over the time looked at. */
export interface SourceReadings extends ReadingSource {
  count: number;
  /** How many of them are not kept any more, but for figures of their hours and days. */
  gone: number;
  grain: Grain;
  readings: SeriesReading[];
  buckets: Bucket[];
}

/** Readings of one quantity in one system between two moments. */
export interface SourceQuestion {
  systemId: string;
  code: string;
  from: Date;
  to: Date;
  timeZone: string;
  /** By how much more than the truth each kit reads (1.1: 10 % high), for those that are known to read wrong. */
  wrong: ReadonlyMap<string, number>;
}

/** A chart with more points than this is a black bar, and slow to load; own choice. */
const mostMarks = 200;

const sourceKind = `CASE WHEN method.laboratory <> '' THEN 'laboratory' WHEN method.every_minutes IS NOT NULL THEN 'probe' ELSE 'hand' END`;

// What people and laboratories read: found by their kits, so that the values of a probe between them are passed by.
const fromPeople = `
    FROM (
  SELECT reading.* FROM kit JOIN method ON method.id = kit.method_id AND method.quantity_code = $2 AND NOT (${reportsItself})
    CROSS JOIN LATERAL (SELECT * FROM reading WHERE kit_id = kit.id AND system_id = $1 AND quantity_code = $2 AND at BETWEEN $3 AND $4 OFFSET 0) AS reading
  UNION ALL
  SELECT * FROM reading WHERE system_id = $1 AND quantity_code = $2 AND at BETWEEN $3 AND $4 AND kit_id IS NULL) AS reading
    LEFT JOIN method ON method.id = reading.method_id`;
const isNotOfProbes = `(${reportsItself}) IS NOT TRUE`;

const counts = `
  SELECT ${sourceKind} AS kind, coalesce(method.laboratory, '') AS name, count(*)::int AS count
    ${fromPeople}
   WHERE ${isNotOfProbes}
   GROUP BY 1, 2 ORDER BY 1, 2`;

const readings = `
  SELECT ${sourceKind} AS kind, coalesce(method.laboratory, '') AS name, ${seriesColumns}
    ${fromPeople}${besideReading}
    JOIN unnest($5::text[], $6::text[]) AS asked(kind, name) ON asked.kind = ${sourceKind} AND asked.name = coalesce(method.laboratory, '')
   WHERE ${isNotOfProbes}
   ORDER BY reading.at, reading.created_at, reading.id`;

const readingsOfProbes = `
  SELECT ${seriesColumns}
    FROM (SELECT * FROM reading WHERE system_id = $1 AND quantity_code = $2 AND at BETWEEN $3 AND $4
           UNION ALL SELECT * FROM unpacked_readings($1, $2, $3, $4)) AS reading
    JOIN method ON method.id = reading.method_id AND ${reportsItself}${besideReading}
   ORDER BY reading.at, reading.created_at, reading.id`;

const buckets = `
  SELECT ${sourceKind} AS kind, coalesce(method.laboratory, '') AS name,
         date_trunc(asked.grain, reading.at AT TIME ZONE $8) AT TIME ZONE $8 AS at, count(*)::int AS count,
         percentile_cont(0.5) WITHIN GROUP (ORDER BY reading.value / coalesce(wrong.times, 1)) AS value,
         min(reading.value / coalesce(wrong.times, 1)) AS low, max(reading.value / coalesce(wrong.times, 1)) AS high,
         count(*) FILTER (WHERE reading.below_detection) * 2 > count(*) AS below,
         count(*) FILTER (WHERE reading.above_scale) * 2 > count(*) AS above,
         (count(*) FILTER (WHERE reading.trust = 'unconfirmed'))::int AS unconfirmed
    ${fromPeople}
    LEFT JOIN unnest($9::uuid[], $10::float8[]) AS wrong(kit_id, times) ON wrong.kit_id = reading.kit_id
    JOIN unnest($5::text[], $6::text[], $7::text[]) AS asked(kind, name, grain) ON asked.kind = ${sourceKind} AND asked.name = coalesce(method.laboratory, '')
   WHERE ${isNotOfProbes} AND reading.voided_at IS NULL AND reading.trust <> 'refuted'
   GROUP BY 1, 2, 3 ORDER BY 3`;

type Of<T> = T & { kind: ReadingSource['kind']; name: string };

/**
 * A quantity over a time, source by source: every reading where they are few, else the median and range of each hour, day
 * or week. Voided readings are there where every one is. Five queries at most; of probes they read roll-ups, however many
 * values those sent.
 */
export async function sourceParts(pool: pg.Pool, question: SourceQuestion): Promise<SourceReadings[]> {
  const [byPeople, byProbes] = await Promise.all([
    partsOfPeople(pool, question),
    partOfProbes(pool, question),
  ]);
  return [...byPeople, ...byProbes].toSorted((a, b) => (a.kind < b.kind ? -1 : a.kind > b.kind ? 1 : 0));
}

async function partsOfPeople(pool: pg.Pool, question: SourceQuestion): Promise<SourceReadings[]> {
  const { systemId, code, from, to, timeZone, wrong } = question;
  const place = [systemId, code, from, to];
  const { rows } = await pool.query<Of<{ count: number }>>(counts, place);
  const days = daysBetween(from, to);
  const parts = rows.map((row) => ({ ...row, gone: 0, grain: grainFor(row.count, days) }));
  const [fine, coarse] = [
    parts.filter(({ grain }) => grain === 'reading'),
    parts.filter(({ grain }) => grain !== 'reading'),
  ];
  const names = (of: typeof parts) => [of.map(({ kind }) => kind), of.map(({ name }) => name)];
  const [single, grouped] = await Promise.all([
    fine.length === 0 ? [] : (await pool.query<Of<SeriesReading>>(readings, [...place, ...names(fine)])).rows,
    coarse.length === 0
      ? []
      : (
          await pool.query<Of<Bucket>>(buckets, [
            ...place,
            ...names(coarse),
            coarse.map(({ grain }) => grain),
            timeZone,
            [...wrong.keys()],
            [...wrong.values()],
          ])
        ).rows,
  ]);
  const own = <T>(all: Of<T>[], part: ReadingSource) =>
    all.filter(({ kind, name }) => kind === part.kind && name === part.name);
  return parts.map((part) => ({ ...part, readings: own(single, part), buckets: own(grouped, part) }));
}

/** All probes as one source; none where they showed nothing. */
async function partOfProbes(pool: pg.Pool, question: SourceQuestion): Promise<SourceReadings[]> {
  const { systemId, code, from, to } = question;
  const { count, gone } = await countOfProbes(pool, question);
  if (count === 0) return [];
  const grain = grainFor(gone > 0 ? Number.POSITIVE_INFINITY : count, daysBetween(from, to));
  const part = { kind: 'probe' as const, name: '', count, gone, grain };
  if (grain !== 'reading')
    return [{ ...part, readings: [], buckets: await bucketsOfProbes(pool, question, grain) }];
  const { rows } = await pool.query<SeriesReading>(readingsOfProbes, [systemId, code, from, to]);
  return [{ ...part, readings: rows, buckets: [] }];
}

/** How finely so many readings over so many days are shown. */
export function grainFor(count: number, days: number): Grain {
  if (count <= mostMarks) return 'reading';
  if (days * 24 <= mostMarks) return 'hour';
  return days <= mostMarks ? 'day' : 'week';
}

/** "by hand", "probe", or the laboratory's name. */
export const sourceName = ({ kind, name }: ReadingSource): string =>
  kind === 'laboratory' ? name : kind === 'probe' ? 'probe' : 'by hand';
