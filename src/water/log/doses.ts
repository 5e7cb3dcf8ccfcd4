import type pg from 'pg';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { choice, number, optionalNumber, optionalText, text } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { convertDifference, isQuantityCode } from '../../science/units.ts';
import { type DoseEffect, effectOfDose } from '../dosing/dose-effect.rules.ts';
import { findOpenWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { type LogEntry, type LogQuery, readLog } from './log.ts';

/** The units of amounts. */
export const doseUnits = ['mL', 'L', 'g', 'kg', 'drops'] as const;

/** A dose as entered. `quantityCode` and `rise` (in the farm's unit) only where the person states the effect. */
export const doseSchema = (timeZone: string, now: Date) =>
  z.object({
    substance: text('what was dosed'),
    amount: number({ what: 'the amount', low: 1e-6, high: 1e6 }),
    unit: choice(doseUnits, 'Choose the unit of the amount.'),
    quantityCode: optionalText(40),
    rise: optionalNumber({ what: 'the rise', low: -1e5, high: 1e5 }),
    at: pastMoment(timeZone, now),
    note: optionalText(),
  });

export type DoseInput = z.output<ReturnType<typeof doseSchema>>;

export interface Dose extends LogEntry {
  substance: string;
  amount: number;
  unit: string;
  quantityCode: string | null;
  /** Rise of the quantity, canonical unit. */
  effect: number | null;
  note: string;
}

/** @throws Refusal when the system is retired, or a rise is stated without what it raises */
export async function addDose(
  work: Work,
  systemId: string,
  input: DoseInput,
): Promise<{ id: string; effect: DoseEffect | null }> {
  const system = await findOpenWaterSystem(work.tx, systemId);
  const effect = await effectOf(work, system, input);
  const { substance, amount, unit, at, note } = input;
  const raises = effect === null ? {} : { quantityCode: effect.quantityCode, effect: effect.rise };
  const data = {
    systemId,
    at,
    substance,
    amount,
    unit,
    note,
    ...raises,
    accountId: work.accountId,
    accessKeyId: work.accessKeyId,
    createdAt: work.now,
  };
  const { id } = await work.tx.dose.create({ data });
  work.record('dose.entered', { type: 'dose', id }, { system: system.name, substance, amount, unit, effect });
  work.reevaluate(systemId);
  return { id, effect };
}

/** The stated effect, else the computed one. */
async function effectOf({ tx }: Work, system: WaterSystem, input: DoseInput): Promise<DoseEffect | null> {
  const { quantityCode, rise, substance, amount, unit } = input;
  if (rise === null) return effectOfDose(substance, amount, unit, system.volumeL);
  if (quantityCode === '')
    throw new Refusal('Choose what it raises, or leave the rise empty.', { field: 'quantityCode' });
  const quantity = await tx.quantity.findUnique({ where: { code: quantityCode } });
  if (quantity === null || !isQuantityCode(quantityCode))
    throw new Refusal('Choose what it raises from the list.', { field: 'quantityCode' });
  const at = (quantity.plausibleLow + quantity.plausibleHigh) / 2;
  return {
    quantityCode,
    rise: convertDifference(quantityCode, rise, quantity.displayUnit, quantity.canonicalUnit, at),
  };
}

export async function listDoses(pool: pg.Pool, query: LogQuery): Promise<Dose[]> {
  const columns =
    'entry.substance, entry.amount, entry.unit, entry.quantity_code AS "quantityCode", entry.effect, entry.note, coalesce(account.name, (SELECT name FROM access_key WHERE id = entry.access_key_id)) AS by';
  return readLog(pool, 'FROM dose AS entry', columns, query);
}

/** Substances dosed in this system before, the commonest first: suggestions for the form. */
export async function usedSubstances(db: Reader, systemId: string): Promise<string[]> {
  const rows = await db.dose.groupBy({
    by: ['substance'],
    where: { systemId, voidedAt: null },
    _count: true,
    orderBy: { _count: { substance: 'desc' } },
    take: 20,
  });
  return rows.map((row) => row.substance);
}
