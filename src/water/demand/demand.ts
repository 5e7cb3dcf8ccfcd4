import type pg from 'pg';
import { raisedCodes } from '../dosing/product-effect.rules.ts';
import type { WaterEstimates } from '../estimates/estimates.ts';
import { isBiased } from '../kits/bias.rules.ts';
import { demandRecord } from './demand-record.rules.ts';
import { readDoserDoubts } from './doser-doubt.ts';
import type { DemandData } from './supply.rules.ts';
import { unknownDosesOf } from './unknown-doses.rules.ts';

/** The quantities whose demand is worked out: what the stock uses up, and what feeding brings. */
export const demandCodes = raisedCodes;
export type DemandCode = (typeof demandCodes)[number];

/** What the demand of one system is worked out from, by quantity. */
export type SystemDemand = Map<DemandCode, DemandData>;

/** What is said of dosing and changing beside the log: who does it by itself or by routine, or that nobody does. */
const habits = `
  SELECT id AS "systemId", extract(epoch FROM undosed_since)::float8 / 86400 AS "undosedSince",
         extract(epoch FROM unchanged_since)::float8 / 86400 AS "unchangedSince",
         EXISTS (SELECT 1 FROM equipment WHERE kind = 'doser' AND removed_at IS NULL AND equipment.system_id = system.id)
           OR EXISTS (SELECT 1 FROM routine WHERE work = 'dose' AND ended_at IS NULL AND routine.system_id = system.id) AS "hasDoser",
         EXISTS (SELECT 1 FROM routine WHERE work = 'water_change' AND ended_at IS NULL AND routine.system_id = system.id) AS "hasChangeRoutine"
    FROM system WHERE id = ANY($1::uuid[])`;

const refutedQuery = `
  SELECT system_id AS "systemId", quantity_code AS code, array_agg(extract(epoch FROM at)::float8 / 86400) AS days
    FROM reading WHERE system_id = ANY($1::uuid[]) AND quantity_code = ANY($2::text[]) AND trust = 'refuted' AND voided_at IS NULL
   GROUP BY system_id, quantity_code`;

type RefutedRow = { systemId: string; code: string; days: number[] };
type Habits = Pick<DemandData, 'hasDoser' | 'hasChangeRoutine' | 'undosedSince' | 'unchangedSince'>;

/**
 * What the demand of these systems is worked out from: the record of their water, what is said of dosing and changing
 * beside it, and whether a doser is in doubt. Three queries.
 *
 * @param estimates as {@link readEstimates} gives them, with the record of `demandCodes`
 */
export async function readDemand(
  pool: pg.Pool,
  estimates: ReadonlyMap<string, WaterEstimates>,
  now: Date,
): Promise<Map<string, SystemDemand>> {
  const ids = [...estimates.keys()];
  const [{ rows }, refuted, doubts] = await Promise.all([
    pool.query<Habits & { systemId: string }>(habits, [ids]),
    pool.query<RefutedRow>(refutedQuery, [ids, [...demandCodes]]),
    readDoserDoubts(pool, ids, demandCodes, now),
  ]);
  return new Map(
    [...estimates].map(([id, known]) => {
      const own = rows.find(({ systemId }) => systemId === id) ?? { hasDoser: false };
      const refutedDays = (code: string) =>
        refuted.rows.find((row) => row.systemId === id && row.code === code)?.days ?? [];
      return [
        id,
        new Map(
          demandCodes.map((code) => [
            code,
            { ...dataOf(code, known, own), refuted: refutedDays(code), doser: doubts(id, code) },
          ]),
        ),
      ];
    }),
  );
}

function dataOf(code: DemandCode, { record, biases }: WaterEstimates, habits: Habits): DemandData {
  const used = new Set(record.readings.get(code)?.map(({ kitId }) => kitId));
  const event = record.events.at(-1);
  return {
    ...demandRecord(record, code, biases),
    makeUpStated: record.kept.get(code)?.makeUp != null,
    correctedKits: [...biases.values()].flatMap((kit) =>
      used.has(kit.kitId) && isBiased(kit) ? [kit.label] : [],
    ),
    ...unknownDosesOf(record, code),
    ...habitsOf(habits),
    learntSince: event === undefined ? null : { day: event.day, kind: event.kind },
  };
}

const habitsOf = ({ hasDoser, hasChangeRoutine, undosedSince, unchangedSince }: Habits) => ({
  hasDoser,
  ...(hasChangeRoutine === undefined ? {} : { hasChangeRoutine }),
  undosedSince: undosedSince ?? null,
  unchangedSince: unchangedSince ?? null,
});
