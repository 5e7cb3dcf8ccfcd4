import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { choice, optionalNumber } from '../../platform/web/fields.ts';
import type { DoseEffect } from '../dosing/dose-effect.rules.ts';
import {
  type Base,
  bases,
  effectByProduct,
  inBase,
  type ProductEffect,
  raisedCodes,
  raisesOther,
  strengthKept,
  unitsOfBase,
} from '../dosing/product-effect.rules.ts';
import { lockOpenWaterSystem, type WaterSystem } from '../systems/systems.ts';

/** What somebody said of a product with one of its doses, and in which system. */
export interface SaidEffect extends ProductEffect {
  systemId: string;
  system: string;
}

/** A product of a system of whose doses nobody has said what they do. */
export interface UnsaidProduct {
  substance: string;
  base: Base;
  doses: number;
  /** What was said of a product of this name elsewhere on the site, the newest; null where nothing was. */
  said: SaidEffect | null;
}

const baseOf = `CASE WHEN unit IN ('mL', 'L') THEN 'mL' WHEN unit IN ('g', 'kg') THEN 'g' ELSE 'drops' END`;
const inBaseSql = `(said.amount * CASE WHEN said.unit IN ('L', 'kg') THEN 1000 ELSE 1 END)`;
/** What a dose tells of its product, as {@link ProductEffect}. */
const saidColumns = `said.quantity_code AS "quantityCode",
  CASE WHEN said.quantity_code IS NULL THEN NULL ELSE said.effect * place.volume_l / ${inBaseSql} END AS strength`;

// A product by its name, and by what its amounts count in; the commonest first. What was said of it newest on the site is beside it.
const unsaidQuery = `
  WITH unsaid AS (
    SELECT lower(trim(substance)) AS key, ${baseOf} AS base, min(trim(substance)) AS substance, count(*)::int AS doses
      FROM dose WHERE system_id = $1 AND voided_at IS NULL AND effect IS NULL AND quantity_code IS NULL
     GROUP BY 1, 2 ORDER BY 4 DESC, 1 LIMIT 20)
  SELECT unsaid.substance, unsaid.base, unsaid.doses, elsewhere.said
    FROM unsaid LEFT JOIN LATERAL (
      SELECT jsonb_build_object('systemId', told."systemId", 'system', told.system, 'quantityCode', told."quantityCode", 'strength', told.strength) AS said
        FROM (SELECT place.id AS "systemId", place.name AS system, ${saidColumns}
                FROM dose AS said JOIN system AS place ON place.id = said.system_id
               WHERE place.site_id = $2 AND said.voided_at IS NULL AND said.effect IS NOT NULL AND said.amount > 0
                 AND lower(trim(said.substance)) = unsaid.key AND ${baseOf.replaceAll('unit', 'said.unit')} = unsaid.base
               ORDER BY said.at DESC, said.id DESC LIMIT 1) AS told) AS elsewhere ON true
   ORDER BY unsaid.doses DESC, unsaid.key`;

/** The products of a system of which nobody has said what they raise, the commonest first. One query. */
export async function unsaidProducts(
  reader: SqlReader,
  { id, siteId }: Pick<WaterSystem, 'id' | 'siteId'>,
): Promise<UnsaidProduct[]> {
  return (await reader.query<UnsaidProduct>(unsaidQuery, [id, siteId])).rows;
}

const beforeQuery = `
  SELECT ${saidColumns} FROM dose AS said JOIN system AS place ON place.id = said.system_id
   WHERE said.system_id = $1::text::uuid AND said.voided_at IS NULL AND said.effect IS NOT NULL AND said.quantity_code IS NOT NULL AND said.amount > 0
     AND said.unit = ANY($3::text[]) AND lower(trim(said.substance)) = lower(trim($2::text)) AND said.access_key_id IS NULL
   ORDER BY said.at DESC, said.id DESC LIMIT 1`;

/** What a dose does by what was said of its product in this system before; null where nothing was. One query. */
export async function effectSaidBefore(
  tx: Reader,
  system: WaterSystem,
  dose: { substance: string; amount: number; unit: string },
): Promise<DoseEffect | null> {
  const counted = inBase(dose.amount, dose.unit);
  if (counted === null) return null;
  const values = [system.id, dose.substance, unitsOfBase(counted.base)];
  const [said] = (await readerOf(tx as Tx).query<ProductEffect>(beforeQuery, values)).rows;
  if (said === undefined) return null;
  const { quantityCode, effect } = effectByProduct(said, dose, system.volumeL);
  return quantityCode === null || effect === null ? null : { quantityCode, rise: effect };
}

/**
 * Gives the doses of a product, of which nobody has said what they do, what is said of it, each by its amount. Those whose amount
 * counts in something else stay unknown. @returns how many
 */
export async function giveEffect(
  tx: Tx,
  { id, volumeL }: Pick<WaterSystem, 'id' | 'volumeL'>,
  substance: string,
  { quantityCode, strength, base }: ProductEffect & { base: Base },
): Promise<number> {
  const perBase = quantityCode === null ? 0 : strength === null ? null : strength / volumeL;
  return tx.$executeRaw`
    UPDATE dose SET quantity_code = ${quantityCode},
           effect = ${perBase}::float8 * amount * CASE WHEN unit IN ('L', 'kg') THEN 1000 ELSE 1 END
     WHERE system_id = ${id}::uuid AND voided_at IS NULL AND effect IS NULL AND quantity_code IS NULL
       AND lower(trim(substance)) = lower(trim(${substance})) AND unit = ANY(${unitsOfBase(base)}::text[])`;
}

/**
 * What is said of a product ("mL alk part": what its amounts count in, and its name); `strength` in the farm's unit: what 100 of
 * its base raise 100 L by.
 */
export const productSchema = z.object({
  product: z
    .string('Choose the product.')
    .regex(/^(mL|g|drops) \S/, 'Choose the product from the list.')
    .transform((product) => {
      const base = bases.find((one) => product.startsWith(`${one} `)) ?? 'mL';
      return { base, substance: product.slice(base.length + 1) };
    }),
  raises: choice([...raisedCodes, raisesOther], 'Choose what it raises.'),
  strength: optionalNumber({ what: 'the rise', low: -1e5, high: 1e5 }),
});

/**
 * Says what a product raises, for all its doses in a system of which nobody has said it.
 * @throws Refusal 404; 422 when the system is retired; 409 when no dose waits for it
 */
export async function sayProduct(
  work: Work,
  systemId: string,
  { product: { substance, base }, raises, strength }: z.output<typeof productSchema>,
): Promise<{ doses: number }> {
  const system = await lockOpenWaterSystem(work.tx, systemId);
  const quantity =
    raises === raisesOther ? null : await work.tx.quantity.findUniqueOrThrow({ where: { code: raises } });
  const kept = quantity === null || strength === null ? null : strengthKept(quantity, strength);
  const said = { quantityCode: quantity?.code ?? null, strength: kept, base };
  const doses = await giveEffect(work.tx, system, substance, said);
  if (doses === 0)
    throw new Refusal(`No dose of “${substance}” waits for it any more. Look at the list again.`, {
      status: 409,
    });
  const details = { system: system.name, substance, raises, strength, base, doses };
  work.record('product.said', { type: 'system', id: systemId }, details);
  work.reevaluate(systemId);
  return { doses };
}
