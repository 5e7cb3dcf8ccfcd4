import type pg from 'pg';
import type { Trust } from '../../generated/prisma/client.ts';
import { whoDid } from '../../platform/database/who-did.ts';
import { hoursSinceDoseSql } from './known-hours.ts';

/** A reading as other rooms use it; value and uncertainty canonical. */
export interface LatestReading {
  id: string;
  systemId: string;
  quantityCode: string;
  at: Date;
  value: number;
  below: boolean;
  above: boolean;
  uncertainty: number;
  kitId: string | null;
  trust: Trust;
  trustReason: string;
}

const latest = `
  SELECT reading.id, system_id AS "systemId", quantity_code AS "quantityCode", at, value, below_detection AS below, above_scale AS above, uncertainty,
         kit_id AS "kitId", trust::text, trust_reason AS "trustReason"
    FROM unnest($1::uuid[]) AS asked(system_id)
    JOIN LATERAL (SELECT code FROM quantity) AS kinds ON true
    JOIN LATERAL (SELECT * FROM reading_with_vote AS reading WHERE reading.system_id = asked.system_id AND reading.quantity_code = kinds.code
                    AND voided_at IS NULL AND trust <> 'refuted' ORDER BY at DESC, created_at DESC LIMIT 1) AS reading USING (system_id)`;

/** The newest reading of every quantity that is neither voided nor refuted nor of a probe without a vote, by system and quantity code. One query. */
export async function latestReadings(
  pool: pg.Pool,
  systemIds: readonly string[],
): Promise<Map<string, Map<string, LatestReading>>> {
  const { rows } = await pool.query<LatestReading>(latest, [[...systemIds]]);
  const bySystem = new Map<string, Map<string, LatestReading>>(systemIds.map((id) => [id, new Map()]));
  for (const row of rows) bySystem.get(row.systemId)?.set(row.quantityCode, row);
  return bySystem;
}

/** One reading with everything that a table shows of it. */
export interface SeriesReading extends LatestReading {
  methodId: string | null;
  method: string | null;
  /** The laboratory that measured it; empty for tests of the farm's own. */
  laboratory: string;
  kit: string | null;
  enteredText: string;
  enteredUnit: string;
  /** What the number shown was multiplied by: a view through the side of the tube, a diluted sample. */
  factor: number;
  /** The laboratory's sample or report. */
  batch: string;
  note: string;
  /** Who read it, or the instrument that posted it; null for the service. */
  by: string | null;
  enteredAt: Date;
  /** Of alkalinity, calcium and magnesium: hours since the last dose of it, within a week; else null. */
  hoursSinceDose: number | null;
  settledById: string | null;
  supersedesId: string | null;
  voidedAt: Date | null;
  voidReason: string | null;
}

/** Which readings; both ends included. Voided and corrected ones only when asked for. */
export interface SeriesQuestion {
  systemId: string;
  /** One, or several. */
  quantityCode: string | readonly string[];
  from: Date;
  to: Date;
  withVoided?: boolean;
}

/** What a {@link SeriesReading} is read from. */
export const seriesColumns = `reading.id, reading.system_id AS "systemId", reading.quantity_code AS "quantityCode", reading.at, reading.value,
         reading.below_detection AS below, reading.above_scale AS above, reading.uncertainty, reading.trust::text, reading.trust_reason AS "trustReason",
         reading.method_id AS "methodId", method.name AS method, coalesce(method.laboratory, '') AS laboratory, reading.kit_id AS "kitId", kit.label AS kit,
         reading.entered_text AS "enteredText", reading.entered_unit AS "enteredUnit", reading.factor, reading.batch, reading.note,
         coalesce(${whoDid('reading', 'measured_by')}, access_key.name) AS by, reading.created_at AS "enteredAt",
         CASE WHEN reading.quantity_code IN ('alkalinity', 'calcium', 'magnesium') THEN
           ${hoursSinceDoseSql} END AS "hoursSinceDose",
         reading.settled_by_id AS "settledById", reading.supersedes_id AS "supersedesId",
         reading.voided_at AS "voidedAt", reading.void_reason AS "voidReason"`;
/** What its columns want beside a reading and its method. */
export const besideReading = `
    LEFT JOIN kit ON kit.id = reading.kit_id
    LEFT JOIN account ON account.id = reading.account_id
    LEFT JOIN access_key ON access_key.id = reading.access_key_id`;
const besideSeries = `
    LEFT JOIN method ON method.id = reading.method_id${besideReading}`;
/** SQL of each part of a question for the next readings of a quantity in a system. */
interface NextReadings {
  systemId: string;
  code: string;
  from: string;
  to: string;
  where: string;
  /** The time and the id of the reading behind which they begin. */
  after: string;
  afterId: string;
  limit: string;
}

// By an index, those that are packed among them: of packs those alone that may hold some of the next.
const nextReadings = ({ systemId, code, from, to, where, after, afterId, limit }: NextReadings) => `
     SELECT * FROM (
       (SELECT * FROM reading WHERE reading.system_id = ${systemId} AND reading.quantity_code = ${code} AND reading.at BETWEEN ${from} AND ${to}
           AND ${where} AND (reading.at, reading.id) > (${after}, ${afterId})
         ORDER BY reading.at, reading.id LIMIT ${limit})
       UNION ALL
       SELECT packed.* FROM next_unpacked(${systemId}, ${code}, greatest(${from}, ${after}), ${to}, ${limit}) AS packed
        WHERE (packed.at, packed.id) > (${after}, ${afterId})) AS reading
      ORDER BY reading.at, reading.id LIMIT ${limit}`;

const series = `
  SELECT ${seriesColumns}
    FROM unnest($2::text[]) AS asked(code)
   CROSS JOIN LATERAL (${nextReadings({
     systemId: '$1',
     code: 'asked.code',
     from: '$3::timestamptz',
     to: '$4::timestamptz',
     where: '($5 OR reading.voided_at IS NULL)',
     after: '$7::timestamptz',
     afterId: '$8::uuid',
     limit: '$6',
   })}) AS reading
    ${besideSeries}
   ORDER BY reading.at, reading.id LIMIT $6`;

/** Readings of one piece: enough to be quick, few enough to hold nobody up (own choice). */
const readingsAtOnce = 1_000;

/**
 * The readings of a quantity (or several) in one system, oldest first, in pieces: each is looked for behind the last one by
 * an index, and no connection is held between them.
 */
export async function* readingSeries(
  pool: pg.Pool,
  question: SeriesQuestion,
): AsyncGenerator<SeriesReading[]> {
  const { systemId, quantityCode, from, to, withVoided = false } = question;
  const asked = [systemId, [quantityCode].flat(), from, to, withVoided, readingsAtOnce];
  for (let after: [Date | string, string] = ['-infinity', noId]; ; ) {
    const { rows } = await pool.query<SeriesReading>(series, [...asked, ...after]);
    if (rows.length > 0) yield rows;
    const last = rows.at(-1);
    if (last === undefined || rows.length < readingsAtOnce) return;
    after = [last.at, last.id];
  }
}

/** Before every id. */
const noId = '00000000-0000-0000-0000-000000000000';

/** Where a reading stands in the series of its system and quantity. */
export interface ReadingPlace {
  systemId: string;
  quantityCode: string;
  /** ISO 8601. */
  at: string;
  id: string;
}

/** Which readings: of each system one quantity after the other, voided ones among them. */
export interface SeriesSlice {
  /** Pairs of a system and a quantity, in the order in which their series follow each other. */
  series: readonly { systemId: string; quantityCode: string }[];
  from: Date;
  to: Date;
  /** A reading of the first series, behind which they begin; null: at its beginning. */
  after: ReadingPlace | null;
  limit: number;
}

const slice = `
  SELECT ${seriesColumns}
    FROM unnest($1::uuid[], $2::text[]) WITH ORDINALITY AS place(system_id, code, nth)
   CROSS JOIN LATERAL (${nextReadings({
     systemId: 'place.system_id',
     code: 'place.code',
     from: '$3::timestamptz',
     to: '$4::timestamptz',
     where: 'true',
     after: `CASE WHEN nth = 1 THEN $5::timestamptz ELSE '-infinity' END`,
     afterId: '$6::uuid',
     limit: '$7',
   })}) AS reading
    ${besideSeries}
   ORDER BY nth, reading.at, reading.id LIMIT $7`;

/** At most `limit` readings of some series, one series after the other: an index leads to them. One query. */
export async function readingSlice(
  pool: pg.Pool,
  { series: asked, from, to, after, limit }: SeriesSlice,
): Promise<SeriesReading[]> {
  const [systems, codes] = [asked.map((one) => one.systemId), asked.map((one) => one.quantityCode)];
  const begin = [after?.at ?? '-infinity', after?.id ?? noId];
  return (await pool.query<SeriesReading>(slice, [systems, codes, from, to, ...begin, limit])).rows;
}
