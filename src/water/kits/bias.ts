import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { KitJudgement } from '../../science/control.ts';
import { judgeKitRecord, type KitRecord, removeBias, withNamedBottles } from './bias.rules.ts';
import { loadKitOpenings } from './openings.ts';

/** What is known of one kit's bias. */
export interface KitBias extends KitJudgement {
  kitId: string;
  label: string;
}

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

/** Gives a reading its corrected value where its kit is known to read wrong, else null. */
export type Correction = <R extends KitReading>(reading: R) => R & { corrected: BiasCorrection | null };

/** What each of these readings is in truth where its kit is known to read wrong, else null. Two queries. */
export async function correctionsOf(
  reader: SqlReader,
  readings: readonly KitReading[],
): Promise<(reading: KitReading) => BiasCorrection | null> {
  const kits = new Set<string>();
  for (const { kitId } of readings) if (kitId !== null) kits.add(kitId);
  const biases = await kitBiases(reader, [...kits]);
  return (reading) => correctionBy(reading, biases.get(reading.kitId ?? ''));
}

/** What corrects these readings, whatever lists they stand in. Two queries. */
export async function correctionOf(reader: SqlReader, readings: readonly KitReading[]): Promise<Correction> {
  const correct = await correctionsOf(reader, readings);
  return (reading) => ({ ...reading, corrected: correct(reading) });
}

/** Readings, each with its corrected value where its kit is known to read wrong, else null. Two queries. */
export async function withBiasCorrection<R extends KitReading>(
  reader: SqlReader,
  readings: readonly R[],
): Promise<(R & { corrected: BiasCorrection | null })[]> {
  return readings.map(await correctionOf(reader, readings));
}

function correctionBy(reading: KitReading, kit: KitBias | undefined): BiasCorrection | null {
  const right = removeBias(reading, kit);
  return right === null ? null : { ...right, bias: kit?.bias ?? 0, biasSd: kit?.sd ?? 0 };
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
    return readings.map((one) => ({
      ...one,
      corrected: correctionBy(one, judged.get(one.quantityCode)?.get(one.kitId ?? '')),
    }));
  };
}
