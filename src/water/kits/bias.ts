import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { KitJudgement } from '../../science/control.ts';
import {
  judgeKitRecord,
  type KitRecord,
  type KitWaterReading,
  removeBias,
  withNamedBottles,
} from './bias.rules.ts';

/** What is known of one kit's bias. */
export interface KitBias extends KitJudgement {
  kitId: string;
  label: string;
}

/** Days of readings before and after a kit's first use that show whether the level stepped with it; own choice. */
const daysBefore = 120;
const daysAfter = 15;
/** A kit is judged in at most so many systems, those in which it was used first, so that the query stays small; own choice. */
const mostSystems = 4;

const kitQuery = `
  SELECT kit.id, kit.label, method.quantity_code AS "quantityCode",
         coalesce((SELECT json_agg(json_build_object('day', extract(epoch FROM at) / 86400, 'standard', standard_value, 'value', value,
                                   'u', sqrt(method.absolute ^ 2 + (method.relative * standard_value) ^ 2)) ORDER BY at)
                     FROM check_reading WHERE kit_id = kit.id AND voided_at IS NULL AND standard_value > 0), '[]') AS checks,
         coalesce((SELECT json_agg(json_build_object('other', old_kit_id, 'old', old_value, 'value', value,
                                   'u', sqrt(method.absolute ^ 2 + (method.relative * old_value) ^ 2)) ORDER BY at)
                     FROM kit_pair WHERE kit_id = kit.id AND voided_at IS NULL), '[]') AS pairs
    FROM kit JOIN method ON method.id = kit.method_id
   WHERE kit.id = ANY($1::text[]::uuid[])`;

// A kit's first use in each water is one step down an index, however many readings there are of it.
const waterQuery = `
  WITH used AS (
    SELECT asked.id AS kit_id, system.id AS system_id, first.at AS first_at, row_number() OVER (PARTITION BY asked.id ORDER BY first.at, system.id) AS place
      FROM unnest($1::text[]::uuid[]) AS asked(id) CROSS JOIN (SELECT id FROM system OFFSET 0) AS system
      JOIN LATERAL (SELECT at FROM reading WHERE kit_id = asked.id AND system_id = system.id AND voided_at IS NULL AND trust <> 'refuted'
                     ORDER BY at LIMIT 1) AS first ON true)
  SELECT used.kit_id AS "ofKit", used.system_id AS "systemId", extract(epoch FROM used.first_at)::float8 / 86400 AS "firstDay",
         extract(epoch FROM near.at)::float8 / 86400 AS day, near.value, near.uncertainty AS u, near.below_detection AS below, near.above_scale AS above,
         near.trust::text, near.kit_id AS "kitId"
    FROM used
    JOIN kit ON kit.id = used.kit_id JOIN method ON method.id = kit.method_id
    JOIN LATERAL (SELECT reading.* FROM reading_with_vote AS reading LEFT JOIN method AS by ON by.id = reading.method_id
                   WHERE reading.system_id = used.system_id AND reading.quantity_code = method.quantity_code AND reading.voided_at IS NULL
                     AND reading.trust <> 'refuted' AND (by.id IS NULL OR (by.every_minutes IS NULL AND by.laboratory = ''))
                     AND reading.at > used.first_at - interval '${daysBefore} days' AND reading.at < used.first_at + interval '${daysAfter} days'
                   ORDER BY reading.at LIMIT 400) AS near ON true
   WHERE used.place <= ${mostSystems}
   ORDER BY used.kit_id, used.place, near.at`;

interface WaterRow extends KitWaterReading {
  ofKit: string;
  systemId: string;
  firstDay: number;
}

/**
 * The readings about the first use of each kit, in the systems in which it was used first: the one record by which pages and
 * the watch judge whether the level stepped with it. One query, however many kits.
 */
export async function loadKitOpenings(
  reader: SqlReader,
  kitIds: readonly string[],
): Promise<Map<string, KitRecord['systems']>> {
  if (kitIds.length === 0) return new Map();
  const { rows } = await reader.query<WaterRow>(waterQuery, [[...kitIds]]);
  return new Map(
    [...Map.groupBy(rows, (row) => row.ofKit)].map(([kitId, own]) => {
      const bySystem = [...Map.groupBy(own, (row) => row.systemId).values()];
      return [kitId, bySystem.map((readings) => ({ firstDay: readings[0]?.firstDay ?? 0, readings }))];
    }),
  );
}

/**
 * What is known of the bias of each kit, from its checks, its pairs with the kit before, and the step of the readings where
 * it was first used. Two queries, however many kits.
 */
export async function kitBiases(reader: SqlReader, kitIds: readonly string[]): Promise<Map<string, KitBias>> {
  if (kitIds.length === 0) return new Map();
  const [kits, openings] = await Promise.all([
    reader.query<Omit<KitRecord, 'systems'> & { label: string }>(kitQuery, [[...kitIds]]),
    loadKitOpenings(reader, kitIds),
  ]);
  const judged = withNamedBottles(
    new Map(
      kits.rows.map((kit) => [kit.id, judgeKitRecord({ ...kit, systems: openings.get(kit.id) ?? [] })]),
    ),
  );
  return new Map(
    kits.rows.flatMap(({ id, label }) => {
      const judgement = judged.get(id);
      return judgement === undefined ? [] : [[id, { kitId: id, label, ...judgement }] as const];
    }),
  );
}

/** A reading with its kit's bias taken out, and that bias; canonical. */
export interface BiasCorrection {
  value: number;
  uncertainty: number;
  /** Relative: -0.1 reads 10 % low. */
  bias: number;
  biasSd: number;
}

interface KitReading {
  value: number;
  uncertainty: number;
  below: boolean;
  above: boolean;
  kitId: string | null;
}

/** Readings, each with its corrected value where its kit is known to read wrong, else null. Two queries. */
export async function withBiasCorrection<R extends KitReading>(
  reader: SqlReader,
  readings: readonly R[],
): Promise<(R & { corrected: BiasCorrection | null })[]> {
  const kits = [...new Set(readings.flatMap(({ kitId }) => (kitId === null ? [] : [kitId])))];
  const biases = await kitBiases(reader, kits);
  return readings.map((reading) => corrected(reading, biases.get(reading.kitId ?? '')));
}

function corrected<R extends KitReading>(
  reading: R,
  kit: KitBias | undefined,
): R & { corrected: BiasCorrection | null } {
  const right = removeBias(reading, kit);
  const known = { bias: kit?.bias ?? 0, biasSd: kit?.sd ?? 0 };
  return { ...reading, corrected: right === null ? null : { ...right, ...known } };
}

const kitsOfQuantity = `SELECT kit.id FROM kit JOIN method ON method.id = kit.method_id WHERE method.quantity_code = $1`;

/**
 * The same for readings that are read piece by piece: all kits of a quantity are judged together, once, however many pieces
 * there are, so that no piece depends on which others it is read with. Three queries a quantity.
 */
export function biasCorrector(
  reader: SqlReader,
): <R extends KitReading & { quantityCode: string }>(
  readings: readonly R[],
) => Promise<(R & { corrected: BiasCorrection | null })[]> {
  const known = new Map<string, Promise<Map<string, KitBias>>>();
  const judge = async (code: string) => {
    const { rows } = await reader.query<{ id: string }>(kitsOfQuantity, [code]);
    return kitBiases(
      reader,
      rows.map(({ id }) => id),
    );
  };
  const biasesOf = (code: string) => {
    const biases = known.get(code) ?? judge(code);
    known.set(code, biases);
    return biases;
  };
  return async (readings) => {
    const codes = new Set(readings.flatMap((one) => (one.kitId === null ? [] : [one.quantityCode])));
    const judged = new Map(
      await Promise.all([...codes].map(async (code) => [code, await biasesOf(code)] as const)),
    );
    return readings.map((one) => corrected(one, judged.get(one.quantityCode)?.get(one.kitId ?? '')));
  };
}
