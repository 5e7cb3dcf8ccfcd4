import type pg from 'pg';
import { bandSource } from '../targets/starting-bands.rules.ts';
import type { KeptFact } from './types.ts';

const keptQuery = `
  SELECT system_id AS "systemId", quantity_code AS code, band_low AS "bandLow", band_high AS "bandHigh",
         limit_high AS "limitHigh", make_up AS "makeUp", source, starting
    FROM system_quantity WHERE system_id = ANY($1)`;

/** What each system keeps, by system and quantity. */
export async function loadKept(
  pool: pg.Pool,
  systemIds: readonly string[],
): Promise<Map<string, Map<string, KeptFact>>> {
  const { rows } = await pool.query<KeptFact & { systemId: string; code: string }>(keptQuery, [systemIds]);
  const groupBySystem = Map.groupBy(rows, (row) => row.systemId);
  return new Map(
    [...groupBySystem].map(([systemId, list]) => [
      systemId,
      new Map(list.map(({ systemId: _, code, ...kept }) => [code, { ...kept, source: bandSource(kept) }])),
    ]),
  );
}
