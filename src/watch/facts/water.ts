import type pg from 'pg';
import { type ChangeFact, type DoseFact, dayOf, type ReadingFact } from './types.ts';

type Dated<T> = Omit<T, 'day' | 'at'> & { at: Date };

const dated = <T extends { at: Date }>(row: T) => ({
  ...row,
  day: dayOf(row.at),
  at: row.at.toISOString(),
});

const readingQuery = `
  SELECT reading.id, reading.system_id AS "systemId", reading.quantity_code AS code, reading.at, reading.value,
         reading.below_detection AS below, reading.uncertainty AS u, method.step, reading.trust::text AS trust,
         reading.kit_id AS "kitId"
    FROM reading LEFT JOIN method ON method.id = reading.method_id
   WHERE reading.system_id = ANY($1) AND reading.quantity_code = ANY($2) AND reading.at > $3 AND reading.at <= $4
     AND reading.voided_at IS NULL AND reading.trust <> 'refuted' AND reading.slot_id IS NULL
   ORDER BY reading.at, reading.id`;

/** Standing readings since a time, oldest first, by system and quantity. */
export async function loadReadings(
  pool: pg.Pool,
  ask: { systemIds: readonly string[]; codes: readonly string[]; since: Date; now: Date },
): Promise<Map<string, Map<string, ReadingFact[]>>> {
  const { rows } = await pool.query<Dated<ReadingFact> & { code: string }>(readingQuery, [
    ask.systemIds,
    ask.codes,
    ask.since,
    ask.now,
  ]);
  const bySystem = Map.groupBy(rows, (row) => row.systemId);
  return new Map(
    [...bySystem].map(([systemId, list]) => {
      const byCode = Map.groupBy(list, (row) => row.code);
      return [systemId, new Map([...byCode].map(([code, own]) => [code, own.map(readingFact)]))];
    }),
  );
}

function readingFact({ code: _, ...row }: Dated<ReadingFact> & { code: string }): ReadingFact {
  return dated(row);
}

const changeQuery = `
  SELECT water_change.id, water_change.system_id AS "systemId", water_change.at, water_change.volume_l AS "volumeL",
         least(1, water_change.volume_l / system.volume_l) AS fraction
    FROM water_change JOIN system ON system.id = water_change.system_id
   WHERE water_change.system_id = ANY($1) AND water_change.at > $2 AND water_change.at <= $3 AND water_change.voided_at IS NULL
   ORDER BY water_change.at`;

const doseQuery = `
  SELECT id, system_id AS "systemId", at, quantity_code AS "quantityCode", effect AS rise
    FROM dose
   WHERE system_id = ANY($1) AND quantity_code = ANY($4) AND at > $2 AND at <= $3 AND voided_at IS NULL AND effect IS NOT NULL
   ORDER BY at`;

/** Logged water changes since a time, oldest first, by system. */
export async function loadChanges(
  pool: pg.Pool,
  ask: { systemIds: readonly string[]; since: Date; now: Date },
): Promise<Map<string, ChangeFact[]>> {
  type Row = Dated<ChangeFact> & { systemId: string };
  const { rows } = await pool.query<Row>(changeQuery, [ask.systemIds, ask.since, ask.now]);
  const bySystem = Map.groupBy(rows, (row) => row.systemId);
  return new Map([...bySystem].map(([id, list]) => [id, list.map(({ systemId: _, ...row }) => dated(row))]));
}

/** Logged doses of the given quantities since a time, oldest first, by system. */
export async function loadDoses(
  pool: pg.Pool,
  ask: { systemIds: readonly string[]; codes: readonly string[]; since: Date; now: Date },
): Promise<Map<string, DoseFact[]>> {
  type Row = Omit<DoseFact, 'day'> & { systemId: string; at: Date };
  const { rows } = await pool.query<Row>(doseQuery, [ask.systemIds, ask.since, ask.now, ask.codes]);
  const bySystem = Map.groupBy(rows, (row) => row.systemId);
  return new Map(
    [...bySystem].map(([id, list]) => [
      id,
      list.map(({ at, quantityCode, rise, id: doseId }) => ({
        id: doseId,
        day: dayOf(at),
        quantityCode,
        rise,
      })),
    ]),
  );
}
