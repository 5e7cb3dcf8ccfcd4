import type pg from 'pg';
import type { Trust } from '../../generated/prisma/enums.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { groupBySystem } from './group-by-system.ts';
import { before, historySince, longestDays, type Span } from './span.ts';
import { sqlMs, timeOf, withTime } from './times.ts';
import type { ChangeFact, DoseFact, EventFact, ReadingFact } from './types.ts';

type Dated<T> = Omit<T, 'day' | 'at'> & { ms: number };

interface ReadingRow {
  systemId: string;
  code: string;
  /** What lies after this is told, milliseconds since 1970. */
  afterMs: number;
  /** Null where nothing lies after it. */
  ids: string | null;
  times: string;
  values: string;
  uncertainties: string;
  flags: string;
  /** "a" for each beyond the scale. */
  above: string;
  methods: string;
  kits: string;
  /** Milliseconds at which each was known; empty unless the past is judged. */
  known: string;
}

/** SQL: the standing readings of one quantity in one system, in order of time by index. */
const standing = (columns: string, ofProbes: boolean) => `
  SELECT ${columns}
    FROM reading LEFT JOIN method ON method.id = reading.method_id
   WHERE reading.system_id = asked.system_id AND reading.quantity_code = asked.code
     AND reading.at > asked.since AND reading.at <= $4
     AND reading.voided_at IS NULL AND reading.trust <> 'refuted' AND reading.slot_id IS NULL
     AND ${ofProbes ? 'asked.by_probe AND method.every_minutes IS NOT NULL' : 'method.every_minutes IS NULL'}`;

const told =
  'reading.id, reading.at, reading.value, reading.uncertainty, reading.below_detection, reading.above_scale, reading.trust, reading.method_id, reading.kit_id, reading.import_id, reading.created_at';

/** SQL: milliseconds since 1970 as text, of a time that is kept to the millisecond. */
const millis = (time: string) => `(date_part('epoch', ${time}) * 1000)::bigint::text`;

// One row a system and quantity, its readings column by column as text: a tenth of the time of a row a reading. Of a
// probe there is one reading a local day, its lower middle one; so where only what is new is asked for ($8), it begins
// with the local day in which that lies.
const readingQuery = `
  WITH asked AS (
    SELECT asked.id AS system_id, site.time_zone, quantity.code,
           greatest(coalesce(longer.since, $5::timestamptz),
                    date_trunc('day', $8::timestamptz AT TIME ZONE site.time_zone) AT TIME ZONE site.time_zone - interval '1 millisecond') AS since,
           EXISTS (SELECT 1 FROM method WHERE quantity_code = quantity.code AND every_minutes IS NOT NULL) AS by_probe
      FROM unnest($1::uuid[]) AS asked(id)
      JOIN system ON system.id = asked.id JOIN site ON site.id = system.site_id
      JOIN quantity ON $7::text[] IS NULL OR quantity.code = ANY($7)
      LEFT JOIN unnest($2::text[], $3::timestamptz[]) AS longer(code, since) ON longer.code = quantity.code)
  SELECT asked.system_id AS "systemId", asked.code, date_part('epoch', asked.since) * 1000 AS "afterMs", told.*
    FROM asked
    CROSS JOIN LATERAL (
      SELECT string_agg(id::text, ' ' ORDER BY at, id) AS ids,
             string_agg(${millis('at')}, ' ' ORDER BY at, id) AS times,
             string_agg(value::text, ' ' ORDER BY at, id) AS values,
             string_agg(uncertainty::text, ' ' ORDER BY at, id) AS uncertainties,
             string_agg(CASE WHEN below_detection THEN upper(left(trust::text, 1)) ELSE left(trust::text, 1) END, '' ORDER BY at, id) AS flags,
             string_agg(CASE WHEN above_scale THEN 'a' ELSE '-' END, '' ORDER BY at, id) AS above,
             string_agg(coalesce(method_id::text, ''), ' ' ORDER BY at, id) AS methods,
             string_agg(coalesce(kit_id::text, ''), ' ' ORDER BY at, id) AS kits,
             CASE WHEN $6 THEN string_agg(${millis('CASE WHEN import_id IS NULL THEN greatest(at, created_at) ELSE at END')},
                                          ' ' ORDER BY at, id) ELSE '' END AS known
        FROM (${standing(told, false)}
              UNION ALL
              SELECT id, at, value, uncertainty, below_detection, above_scale, trust, method_id, kit_id, import_id, created_at
                FROM (${standing(`${told}, row_number() OVER day_of_probe - 1 - (count(*) OVER whole_day - 1) / 2 AS from_middle`, true)}
                WINDOW whole_day AS (PARTITION BY reading.method_id, reading.kit_id, (reading.at AT TIME ZONE asked.time_zone)::date),
                       day_of_probe AS (whole_day ORDER BY reading.value, reading.id)) AS by_probes
               WHERE from_middle = 0) AS standing) AS told
   WHERE told.ids IS NOT NULL OR $8::timestamptz IS NOT NULL`;

const methodQuery = `SELECT id, step, laboratory, is_probe OR every_minutes IS NOT NULL AS probe FROM method`;

interface MethodRow {
  id: string;
  step: number | null;
  laboratory: string;
  probe: boolean;
}

const noMethod = { step: null, laboratory: '', probe: false };
const trusts: Readonly<Record<string, Trust>> = { p: 'plain', u: 'unconfirmed', c: 'confirmed' };

/**
 * Standing readings of the quantities asked for (null: every one) as far back as the history of each goes, oldest first,
 * by system and quantity. Two queries.
 */
export async function loadReadings(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
  quantityCodes: readonly string[] | null = null,
): Promise<Map<string, Map<string, ReadingFact[]>>> {
  const asked = { codes: quantityCodes, from: null };
  const { rows, methodOf } = await readingRows(pool, systemIds, span, asked);
  return bySystemAndCode(rows, (row) => readingFacts(row, methodOf));
}

/** The readings of a quantity after a moment; those before it are as they were. */
export interface ReadingsFrom {
  /** The moment, as days since 1970. */
  afterDay: number;
  anew: ReadingFact[];
}

/**
 * The readings of some quantities from the local day of a time on, oldest first, by system and quantity, also where there
 * are none. Two queries.
 *
 * @param what its `fromMs` in milliseconds since 1970; from the beginning of history where it is not finite
 */
export async function loadReadingsFrom(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
  what: { codes: readonly string[]; fromMs: number },
): Promise<Map<string, Map<string, ReadingsFrom>>> {
  const from = new Date(Number.isFinite(what.fromMs) ? what.fromMs : 0);
  const { rows, methodOf } = await readingRows(pool, systemIds, span, { codes: what.codes, from });
  return bySystemAndCode(rows, (row) => ({
    afterDay: dayOf(new Date(row.afterMs)),
    anew: readingFacts(row, methodOf),
  }));
}

async function readingRows(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
  asked: { codes: readonly string[] | null; from: Date | null },
) {
  const { codes, since, usual } = historySince(span);
  const known = span.from < span.now;
  const values = [systemIds, codes, since, span.now, usual, known, asked.codes, asked.from];
  const [{ rows }, methods] = await Promise.all([
    pool.query<ReadingRow>(readingQuery, values),
    pool.query<MethodRow>(methodQuery),
  ]);
  return { rows, methodOf: new Map(methods.rows.map((row) => [row.id, row])) };
}

const bySystemAndCode = <T>(rows: readonly ReadingRow[], of: (row: ReadingRow) => T) =>
  new Map(
    [...Map.groupBy(rows, ({ systemId }) => systemId)].map(([systemId, list]) => [
      systemId,
      new Map(list.map((row) => [row.code, of(row)])),
    ]),
  );

function readingFacts(row: ReadingRow, methodOf: ReadonlyMap<string, MethodRow>): ReadingFact[] {
  const { systemId, ids } = row;
  if (ids === null) return [];
  const [times, values, us] = [row.times.split(' '), row.values.split(' '), row.uncertainties.split(' ')];
  const [methods, kits] = [oneText(row.methods.split(' ')), oneText(row.kits.split(' '))];
  const known = row.known === '' ? null : row.known.split(' ');
  return ids.split(' ').map((id, i): ReadingFact => {
    const { at, day } = timeOf(Number(times[i]));
    const flag = row.flags[i] ?? '';
    const { step, laboratory, probe } = methodOf.get(methods[i] ?? '') ?? noMethod;
    const fact: ReadingFact = {
      id,
      systemId,
      day,
      at,
      value: Number(values[i]),
      below: flag !== flag.toLowerCase(),
      u: Number(us[i]),
      step,
      trust: trusts[flag.toLowerCase()] ?? 'plain',
      methodId: methods[i] || null,
      probe,
      kitId: kits[i] || null,
      hand: laboratory,
    };
    if (row.above[i] === 'a') fact.above = true;
    if (known !== null) fact.knownDay = timeOf(Number(known[i])).day;
    return fact;
  });
}

/** Texts that follow each other and are alike made one, which is quick to compare and to look up. */
function oneText(texts: string[]): string[] {
  for (let i = 1; i < texts.length; i++) {
    const before = texts[i - 1] as string;
    if (texts[i] === before) texts[i] = before;
  }
  return texts;
}

const changeQuery = `
  SELECT water_change.id, water_change.system_id AS "systemId", ${sqlMs('water_change.at')}, water_change.volume_l AS "volumeL",
         least(1, water_change.volume_l / system.volume_l) AS fraction, water_change.make_up AS "makeUp",
         EXISTS (SELECT 1 FROM correction_step WHERE correction_step.water_change_id = water_change.id) AS once
    FROM water_change JOIN system ON system.id = water_change.system_id
   WHERE water_change.system_id = ANY($1) AND water_change.at > $2 AND water_change.at <= $3 AND water_change.voided_at IS NULL
   ORDER BY water_change.at, water_change.id`;

/** Logged water changes of the longest history, oldest first, by system. */
export async function loadChanges(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, ChangeFact[]>> {
  type Row = Dated<ChangeFact> & { systemId: string };
  const { rows } = await pool.query<Row>(changeQuery, [systemIds, before(span, longestDays), span.now]);
  return groupBySystem(rows, withTime);
}

// A dose that no person logged is of the only doser for its quantity.
const doseQuery = `
  WITH only_doser AS (
    SELECT system_id, strength_code, min(id::text)::uuid AS id FROM equipment
     WHERE kind = 'doser' AND removed_at IS NULL AND strength > 0 AND system_id = ANY($1) GROUP BY system_id, strength_code HAVING count(*) = 1)
  SELECT dose.id, dose.system_id AS "systemId", ${sqlMs('dose.at')}, substance, quantity_code AS "quantityCode", effect AS rise,
         concerns, reason, access_key_id IS NOT NULL AS "byInstrument",
         coalesce(doser_id, CASE WHEN account_id IS NULL AND done_by = '' THEN only_doser.id END) AS "doserId"
    FROM dose LEFT JOIN only_doser ON only_doser.system_id = dose.system_id AND only_doser.strength_code = dose.quantity_code
         LEFT JOIN unnest($2::text[], $3::timestamptz[]) AS longer(code, since) ON longer.code = quantity_code
   WHERE dose.system_id = ANY($1) AND dose.at > coalesce(longer.since, $5) AND dose.at > $6 AND dose.at <= $4 AND voided_at IS NULL
   ORDER BY dose.at, dose.id`;

/** Logged doses as far back as the history of what they raise goes, oldest first, by system. */
export async function loadDoses(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, DoseFact[]>> {
  type Row = Dated<DoseFact> & { systemId: string };
  const { codes, since, usual } = historySince(span);
  const values = [systemIds, codes, since, span.now, usual, before(span, longestDays)];
  const { rows } = await pool.query<Row>(doseQuery, values);
  return groupBySystem(rows, withTime);
}

interface EventRow extends Omit<EventFact, 'day' | 'at'> {
  systemId: string;
  ms: number;
}

const eventQuery = `
  SELECT id, system_id AS "systemId", ${sqlMs('at')}, kind, note
    FROM system_event WHERE system_id = ANY($1) AND at > $2 AND at <= $3 AND voided_at IS NULL ORDER BY at, id`;

/** Events after which a water's habits are learnt anew, oldest first, by system. */
export async function loadEvents(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, EventFact[]>> {
  const { rows } = await pool.query<EventRow>(eventQuery, [systemIds, before(span, longestDays), span.now]);
  return groupBySystem(rows, withTime);
}
