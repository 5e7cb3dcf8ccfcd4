import type pg from 'pg';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { litres } from '../../platform/units/measures.ts';
import { choice, number, optionalNumber, optionalText } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { convert, convertMeasure } from '../../science/units.ts';
import { lockOpenWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { type ChangeOutlook, changeOutlook } from './change-check.rules.ts';
import { readChangeContext } from './change-context.ts';
import { type LogEntry, type LogQuery, readLog } from './log.ts';
import { type MakeUp, makeUpAtSalinity } from './water-changes.rules.ts';

/** The water that came in: the usual make-up water, purified water, or water mixed to another salinity. */
const newWaters = ['usual', 'purified', 'other'] as const;

/** A water change as entered: litres, or per cent of the system; by which water, the usual make-up water unless said. */
export const waterChangeSchema = (timeZone: string, now: Date) =>
  z
    .object({
      amount: number({ what: 'how much was changed', low: 0.01, high: 1e7 }),
      unit: choice(['L', 'gal (US)', 'gal (UK)', '%'], 'Choose a volume or per cent.'),
      water: z
        .union([z.literal(''), z.enum(newWaters)], { error: 'Choose which water came in.' })
        .default('usual')
        .transform((water) => water || 'usual'),
      salinity: optionalNumber({ what: 'the salinity of the new water', low: 0, high: 60, unit: 'PSU' }),
      temperature: optionalNumber({ what: 'the temperature of the new water', low: -5, high: 140 }),
      at: pastMoment(timeZone, now),
      note: optionalText(),
      reason: optionalText(500),
    })
    .refine(({ water, salinity }) => water !== 'other' || salinity !== null, {
      path: ['salinity'],
      error: 'Enter the salinity that the new water was mixed to.',
    });

/**
 * A water change to log; `contents` where the new water was tested, or is known for another reason, `temperature` of it
 * in the farm's unit, `reason` why it is right although it is unusual.
 */
export interface WaterChangeInput {
  amount: number;
  unit: 'L' | 'gal (US)' | 'gal (UK)' | '%';
  water?: (typeof newWaters)[number];
  salinity?: number | null;
  temperature?: number | null;
  contents?: MakeUp;
  at: Date;
  note: string;
  reason?: string;
}

/** A step of a correction was weighed when it was planned. */
type ChangePurpose = 'log' | 'step';

export interface WaterChangeEntry extends LogEntry {
  volumeL: number;
  /** What the new water held, where it was not the usual make-up water. */
  makeUp: MakeUp | null;
  note: string;
}

/**
 * Logs a water change. An unusual one wants a reason, which is kept with its comment.
 * @throws Refusal when the system is retired, more would be changed than it holds, or an unusual one has no reason
 */
export async function addWaterChange(
  work: Work,
  systemId: string,
  input: WaterChangeInput,
  purpose: ChangePurpose = 'log',
): Promise<{ id: string; volumeL: number; makeUp: MakeUp | null } & ChangeOutlook> {
  const system = await lockOpenWaterSystem(work.tx, systemId);
  const { volumeL, makeUp, ...outlook } = await lookAtWaterChange(work.tx, system, input, purpose);
  const { at, note: comment, reason = '' } = input;
  const { says, concerns } = outlook;
  if (concerns.length > 0 && reason === '' && work.accessKeyId === null)
    throw new Refusal(
      `Not saved yet. Look at the figure and the unit, and change nothing until you have. ${[says, ...concerns].join(' ').trim()} If it is meant, or is done already, say why, and it is kept.`,
      { field: 'reason' },
    );
  const note = [comment, reason === comment ? '' : reason].filter((part) => part !== '').join(' ');
  const { id } = await work.tx.waterChange.create({
    data: {
      systemId,
      at,
      volumeL,
      note,
      accountId: work.accountId,
      createdAt: work.now,
      ...(makeUp === null ? {} : { makeUp }),
    },
  });
  const unusual = concerns.length === 0 ? {} : { concerns, reason };
  const details = { system: system.name, volumeL, ...(makeUp === null ? {} : { makeUp }), ...unusual };
  work.record('water_change.entered', { type: 'water_change', id }, details);
  work.reevaluate(systemId);
  return { id, volumeL, makeUp, ...outlook };
}

/** What a water change does and what speaks against it. @throws Refusal when it is more than the system holds */
export async function lookAtWaterChange(
  tx: Reader,
  system: WaterSystem,
  input: WaterChangeInput,
  purpose: ChangePurpose = 'log',
): Promise<{ volumeL: number; makeUp: MakeUp | null } & ChangeOutlook> {
  const { amount, unit, at, temperature = null } = input;
  const volumeL =
    unit === '%' ? (system.volumeL * amount) / 100 : convertMeasure('volume', amount, unit, 'L');
  if (volumeL > system.volumeL) {
    const message = `${system.name} holds ${litres(system.volumeL)}. Enter no more than that; several changes in a day are several entries.`;
    throw new Refusal(message, { field: 'amount' });
  }
  const usual = await usualMakeUp(tx, system.id);
  const makeUp = makeUpOf(usual, input);
  if (purpose === 'step') return { volumeL, makeUp, says: '', concerns: [] };
  const context = await readChangeContext(tx, system, at);
  const thermal = context.quantities.find(({ code }) => code === 'temperature');
  const warmth =
    temperature === null || thermal === undefined
      ? {}
      : { temperature: convert('temperature', temperature, thermal.displayUnit, thermal.canonicalUnit) };
  const newWater = { ...usual, ...makeUp, ...warmth };
  return { volumeL, makeUp, ...changeOutlook(volumeL / system.volumeL, { ...context, newWater }) };
}

async function usualMakeUp(tx: Reader, systemId: string): Promise<MakeUp> {
  const stated = await tx.systemQuantity.findMany({
    where: { systemId, makeUp: { not: null } },
    select: { quantityCode: true, makeUp: true },
  });
  return Object.fromEntries(stated.map((one) => [one.quantityCode, one.makeUp ?? 0]));
}

/** What the new water holds; null for the usual make-up water. */
function makeUpOf(
  usual: MakeUp,
  { water = 'usual', salinity = null, contents }: WaterChangeInput,
): MakeUp | null {
  if (contents !== undefined && contents.salinity === undefined) return contents;
  const mixedTo = contents?.salinity ?? (water === 'purified' ? 0 : salinity);
  if (contents === undefined && (water === 'usual' || mixedTo === null)) return null;
  return { ...makeUpAtSalinity(usual, mixedTo ?? 0), ...contents };
}

export async function listWaterChanges(pool: pg.Pool, query: LogQuery): Promise<WaterChangeEntry[]> {
  return readLog(
    pool,
    'FROM water_change AS entry',
    'entry.volume_l AS "volumeL", entry.make_up AS "makeUp", entry.note',
    query,
  );
}
