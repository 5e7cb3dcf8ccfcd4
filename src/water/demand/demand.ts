import type pg from 'pg';
import type { Trust } from '../../generated/prisma/client.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { withoutBias } from '../kits/bias.rules.ts';
import { kitBiases } from '../kits/bias.ts';
import type { MakeUp } from '../log/water-changes.rules.ts';
import type { DemandReading } from './rate.rules.ts';
import { type LoggedDose, risesOf } from './rate.rules.ts';
import type { DemandPart } from './supply.rules.ts';

/** What is worked out for every system: what the stock uses up, and what feeding brings. */
export const demandCodes = ['alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate'] as const;
export type DemandCode = (typeof demandCodes)[number];

/** Everything a system's demand is worked out from, by quantity. */
export type SystemDemand = Map<DemandCode, DemandPart>;

// Probes report all day: their day's median stands for them. Two laboratories, or two kits, are never joined.
const readings = `
  WITH told AS (
    SELECT reading.system_id, reading.quantity_code, reading.at, reading.value, reading.uncertainty, reading.below_detection,
           reading.trust::text AS trust, reading.kit_id, method.every_minutes,
           coalesce(nullif(method.laboratory, ''), reading.kit_id::text, reading.method_id::text, '') AS hand
      FROM reading LEFT JOIN method ON method.id = reading.method_id
     WHERE reading.system_id = ANY($1::uuid[]) AND reading.quantity_code = ANY($2::text[]) AND reading.at > $3 AND reading.at <= $4
       AND reading.voided_at IS NULL AND reading.slot_id IS NULL)
  SELECT system_id AS "systemId", quantity_code AS code, extract(epoch FROM at)::float8 / 86400 AS day, value, uncertainty AS u,
         below_detection AS below, trust, kit_id AS "kitId", hand
    FROM told WHERE every_minutes IS NULL
   UNION ALL
  SELECT system_id, quantity_code, avg(extract(epoch FROM at))::float8 / 86400, percentile_cont(0.5) WITHIN GROUP (ORDER BY value),
         avg(uncertainty), false, 'plain', kit_id, hand
    FROM told WHERE every_minutes IS NOT NULL AND trust IN ('plain', 'confirmed') AND NOT below_detection
   GROUP BY system_id, quantity_code, kit_id, hand, date_trunc('day', at)
   ORDER BY day`;

const changes = `
  SELECT water_change.system_id AS "systemId", extract(epoch FROM at)::float8 / 86400 AS day, least(1, water_change.volume_l / system.volume_l) AS fraction,
         water_change.make_up AS "makeUp",
         EXISTS (SELECT 1 FROM correction_step WHERE correction_step.water_change_id = water_change.id) AS once
    FROM water_change JOIN system ON system.id = water_change.system_id
   WHERE system_id = ANY($1::uuid[]) AND at > $2 AND at <= $3 AND voided_at IS NULL ORDER BY at`;

const doses = `
  SELECT system_id AS "systemId", extract(epoch FROM at)::float8 / 86400 AS day, substance, quantity_code AS "quantityCode", effect AS rise
    FROM dose WHERE system_id = ANY($1::uuid[]) AND at > $2 AND at <= $3 AND voided_at IS NULL ORDER BY at`;

const makeUps = `
  SELECT system_id AS "systemId", quantity_code AS code, make_up AS "makeUp" FROM system_quantity
   WHERE system_id = ANY($1::uuid[]) AND make_up IS NOT NULL`;

interface ReadingRow {
  systemId: string;
  code: DemandCode;
  day: number;
  value: number;
  u: number;
  below: boolean;
  trust: Trust;
  kitId: string | null;
  hand: string;
}
type ChangeRow = { systemId: string; day: number; fraction: number; makeUp: MakeUp | null; once: boolean };
type DoseRow = LoggedDose & { systemId: string };
type MakeUpRow = { systemId: string; code: DemandCode; makeUp: number };

/**
 * What the demand of the systems is worked out from, over the `days` before a time: readings with the bias of kits that
 * are known to read wrong taken out, changes, doses. Six queries, however many systems.
 */
export async function readDemand(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
  days: number,
): Promise<Map<string, SystemDemand>> {
  const since = daysBefore(now, days);
  const ids = [...systemIds];
  const [read, changed, dosed, made] = await Promise.all([
    pool.query<ReadingRow>(readings, [ids, [...demandCodes], since, now]),
    pool.query<ChangeRow>(changes, [ids, since, now]),
    pool.query<DoseRow>(doses, [ids, since, now]),
    pool.query<MakeUpRow>(makeUps, [ids]),
  ]);
  const biases = await kitBiases(pool, [
    ...new Set(read.rows.flatMap(({ kitId }) => (kitId === null ? [] : [kitId]))),
  ]);
  const own = <T extends { systemId: string }>(rows: readonly T[]) =>
    Map.groupBy(rows, (row) => row.systemId);
  const [readsOf, changesOf, dosesOf, madeOf] = [
    own(read.rows),
    own(changed.rows),
    own(dosed.rows),
    own(made.rows),
  ];
  return new Map(
    ids.map((id) => {
      const of = {
        readings: readsOf.get(id) ?? [],
        changes: changesOf.get(id) ?? [],
        doses: dosesOf.get(id) ?? [],
        makeUps: madeOf.get(id) ?? [],
      };
      return [id, new Map(demandCodes.map((code) => [code, partOf(code, of, biases)]))];
    }),
  );
}

interface Rows {
  readings: readonly ReadingRow[];
  changes: readonly ChangeRow[];
  doses: readonly DoseRow[];
  makeUps: readonly MakeUpRow[];
}

/** What a salt mix in purified water holds none of, unless somebody says otherwise. */
const madeNotMixed = new Set<DemandCode>(['nitrate', 'phosphate']);

function partOf(code: DemandCode, rows: Rows, biases: Awaited<ReturnType<typeof kitBiases>>): DemandPart {
  const read = rows.readings
    .filter((row) => row.code === code)
    .map((row) => {
      const kit = row.kitId === null ? undefined : biases.get(row.kitId);
      const right = withoutBias({ value: row.value, uncertainty: row.u, below: row.below }, kit);
      const reading: DemandReading = {
        day: row.day,
        value: right?.value ?? row.value,
        u: right?.uncertainty ?? row.u,
        below: row.below,
        trust: row.trust,
        hand: row.hand,
        suspect: kit?.verdict === 'suspect',
      };
      return { reading, corrected: right === null ? null : (kit?.label ?? '') };
    });
  const stated = rows.makeUps.find((row) => row.code === code)?.makeUp ?? null;
  const unknown = rows.doses
    .filter((dose) => dose.rise === null)
    .map(({ day, substance }) => ({ day, substance }));
  return {
    readings: read.map(({ reading }) => reading),
    log: {
      changes: rows.changes.map((change) => ({ ...change, makeUp: change.makeUp?.[code] ?? null })),
      doses: risesOf(rows.doses, code),
      makeUp: stated ?? (madeNotMixed.has(code) ? 0 : null),
    },
    makeUpStated: stated !== null,
    correctedKits: [...new Set(read.flatMap(({ corrected }) => (corrected === null ? [] : [corrected])))],
    unknownDoses: unknown,
  };
}
