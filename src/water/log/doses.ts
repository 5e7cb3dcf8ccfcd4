import type pg from 'pg';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { whoDid } from '../../platform/database/who-did.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { choice, number, optionalNumber, optionalText, text, tick } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { convertDifference, isQuantityCode } from '../../science/units.ts';
import { type DoseOutlook, type DosePurpose, doseOutlook } from '../dosing/dose-check.rules.ts';
import { type DoseEffect, effectOfDose, mostOfDose } from '../dosing/dose-effect.rules.ts';
import { effectTold } from '../dosing/product-effect.rules.ts';
import { lockOpenWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { readDoseContext } from './dose-context.ts';
import { type LogEntry, type LogQuery, readLog } from './log.ts';
import { effectSaidBefore, giveEffect } from './product-effects.ts';

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
    reason: optionalText(500),
    earlierToo: tick(),
    beside: tick(),
  });

/**
 * A dose to be logged; `reason`: why it is right although it is unusual; `earlierToo`: what is stated of its effect holds for the
 * earlier doses of the product, of which nobody said it.
 */
export type DoseInput = Omit<z.output<ReturnType<typeof doseSchema>>, 'reason' | 'earlierToo' | 'beside'> & {
  reason?: string;
  earlierToo?: boolean;
};

export interface Dose extends LogEntry {
  substance: string;
  amount: number;
  unit: string;
  quantityCode: string | null;
  /** Rise of the quantity, canonical unit; 0 without a quantity where it raises none that use is reckoned for. */
  effect: number | null;
  note: string;
  concerns: string[];
  reason: string;
}

/** A dose as it was kept: what it does in words, and what was unusual about it. */
export interface KeptDose extends Pick<DoseOutlook, 'says' | 'concerns'> {
  id: string;
  effect: DoseEffect | null;
  /** Earlier doses that got their effect from it. */
  earlier: number;
}

/** What a dose is looked at for, with the cap of the correction whose step it is. */
interface DoseUse {
  purpose: DosePurpose;
  dailyCap: number | null;
}

const toLog: DoseUse = { purpose: 'log', dailyCap: null };

/**
 * Logs a dose. An unusual one wants a reason; an instrument's went in already, so it is kept and the watch tells of it.
 * @throws Refusal when the system is retired, a rise is stated without what it raises, or an unusual dose has no reason
 */
export async function addDose(
  work: Work,
  systemId: string,
  input: DoseInput,
  use: DoseUse = toLog,
): Promise<KeptDose> {
  const system = await lockOpenWaterSystem(work.tx, systemId);
  const { effect, says, concerns } = await lookAtDose(work.tx, system, input, use);
  const { substance, amount, unit, at, note, reason = '' } = input;
  if (concerns.length > 0 && reason === '' && work.accessKeyId === null)
    throw unexplained({ says, concerns }, 'is in the water already');
  const raises = effect === null ? {} : { quantityCode: effect.quantityCode, effect: effect.rise };
  const data = {
    systemId,
    at,
    substance,
    amount,
    unit,
    note,
    concerns,
    reason,
    ...raises,
    accountId: work.accountId,
    accessKeyId: work.accessKeyId,
    createdAt: work.now,
  };
  const { id } = await work.tx.dose.create({ data });
  const earlier = input.earlierToo === true ? await sayOfEarlier(work, system, input, effect) : 0;
  const unusual = concerns.length === 0 ? {} : { concerns, reason };
  const before = earlier === 0 ? {} : { earlier };
  const details = { system: system.name, substance, amount, unit, effect, ...unusual, ...before };
  work.record('dose.entered', { type: 'dose', id }, details);
  work.reevaluate(systemId);
  return { id, effect, says, concerns, earlier };
}

/** Gives the earlier doses of a product whose effect nobody said the effect of this one. @returns how many @throws Refusal where no effect is known */
async function sayOfEarlier(
  { tx }: Work,
  system: WaterSystem,
  { substance, amount, unit }: DoseInput,
  effect: DoseEffect | null,
): Promise<number> {
  if (effect === null)
    throw new Refusal('Say what it raises, and by how much, before the earlier doses can go by it.', {
      field: 'rise',
    });
  const told = effectTold(
    { amount, unit, quantityCode: effect.quantityCode, effect: effect.rise },
    system.volumeL,
  );
  return told === null ? 0 : giveEffect(tx, system, substance, told);
}

/** What is answered to an unusual dose without a reason. @param orElse "is in the water already" */
export const unexplained = ({ says, concerns }: Pick<DoseOutlook, 'says' | 'concerns'>, orElse: string) =>
  new Refusal(
    `Not saved yet. Look at the decimal point and the unit, and give nothing until you have. ${[says, ...concerns].join(' ')} If it is meant, or ${orElse}, say why, and it is kept.`,
    { field: 'reason' },
  );

/** What a dose does and what speaks against it, before or while it is kept. @throws Refusal a rise without what it raises */
export async function lookAtDose(
  tx: Reader,
  system: WaterSystem,
  input: DoseInput,
  use: DoseUse = toLog,
): Promise<DoseOutlook & { effect: DoseEffect | null }> {
  return lookAtEffect(tx, system, input, await effectOf(tx, system, input), use);
}

/** As {@link lookAtDose}, of a dose whose effect is known (null where it is not). */
export async function lookAtEffect(
  tx: Reader,
  system: WaterSystem,
  { substance, amount, unit, at }: Pick<DoseInput, 'substance' | 'amount' | 'at'> & { unit: string },
  effect: DoseEffect | null,
  use: DoseUse = toLog,
): Promise<DoseOutlook & { effect: DoseEffect | null }> {
  const most = effect === null ? mostOfDose(substance, amount, unit, system.volumeL) : null;
  const code = (effect ?? most)?.quantityCode ?? null;
  const quantity = code === null ? null : await tx.quantity.findUnique({ where: { code } });
  const { timeZone } = await tx.site.findFirstOrThrow({ where: { systems: { some: { id: system.id } } } });
  const request = {
    systemId: system.id,
    timeZone,
    at,
    substance,
    quantity,
    dailyCap: use.dailyCap,
  };
  const rises = { rise: effect?.rise ?? null, mostRise: most?.rise ?? null, mostAs: most?.as ?? '' };
  const dose = { at, substance, amount, unit, quantityCode: code, ...rises };
  const outlook = doseOutlook(dose, await readDoseContext(readerOf(tx), request), use.purpose);
  return { ...outlook, effect };
}

/** The stated effect, else the computed one, else what was said of the product here before. */
async function effectOf(tx: Reader, system: WaterSystem, input: DoseInput): Promise<DoseEffect | null> {
  const { quantityCode, rise, substance, amount, unit } = input;
  if (rise === null)
    return (
      effectOfDose(substance, amount, unit, system.volumeL) ?? (await effectSaidBefore(tx, system, input))
    );
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
  const columns = `entry.substance, entry.amount, entry.unit, entry.quantity_code AS "quantityCode", entry.effect, entry.note, entry.concerns, entry.reason, coalesce(${whoDid('entry', 'done_by')}, (SELECT name FROM access_key WHERE id = entry.access_key_id), 'by the doser ' || doser.name || ', calculated') AS by`;
  return readLog(
    pool,
    'FROM dose AS entry',
    columns,
    query,
    'LEFT JOIN equipment AS doser ON doser.id = entry.doser_id',
  );
}

/** Substances dosed in this system before, the commonest first: suggestions for the form. */
export async function usedSubstances(db: Reader, systemId: string): Promise<string[]> {
  const rows = await db.dose.groupBy({
    by: ['substance'],
    where: { systemId, voidedAt: null },
    _count: true,
    orderBy: [{ _count: { substance: 'desc' } }, { substance: 'asc' }],
    take: 20,
  });
  return rows.map((row) => row.substance);
}
