import type pg from 'pg';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { litres } from '../../platform/units/measures.ts';
import { choice, number, optionalNumber, optionalText } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { convertMeasure } from '../../science/units.ts';
import { lockOpenWaterSystem } from '../systems/systems.ts';
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
      at: pastMoment(timeZone, now),
      note: optionalText(),
    })
    .refine(({ water, salinity }) => water !== 'other' || salinity !== null, {
      path: ['salinity'],
      error: 'Enter the salinity that the new water was mixed to.',
    });

/** A water change to log; `contents` where the new water was tested, or is known for another reason. */
export interface WaterChangeInput {
  amount: number;
  unit: 'L' | 'gal (US)' | 'gal (UK)' | '%';
  water?: (typeof newWaters)[number];
  salinity?: number | null;
  contents?: MakeUp;
  at: Date;
  note: string;
}

export interface WaterChangeEntry extends LogEntry {
  volumeL: number;
  /** What the new water held, where it was not the usual make-up water. */
  makeUp: MakeUp | null;
  note: string;
}

/** @throws Refusal when the system is retired, or more would be changed than it holds */
export async function addWaterChange(
  work: Work,
  systemId: string,
  input: WaterChangeInput,
): Promise<{ id: string; volumeL: number; makeUp: MakeUp | null }> {
  const system = await lockOpenWaterSystem(work.tx, systemId);
  const volumeL =
    input.unit === '%'
      ? (system.volumeL * input.amount) / 100
      : convertMeasure('volume', input.amount, input.unit, 'L');
  if (volumeL > system.volumeL) {
    const message = `${system.name} holds ${litres(system.volumeL)}. Enter no more than that; several changes in a day are several entries.`;
    throw new Refusal(message, { field: 'amount' });
  }
  const makeUp = await makeUpOf(work, systemId, input);
  const { id } = await work.tx.waterChange.create({
    data: {
      systemId,
      at: input.at,
      volumeL,
      note: input.note,
      accountId: work.accountId,
      createdAt: work.now,
      ...(makeUp === null ? {} : { makeUp }),
    },
  });
  const details = { system: system.name, volumeL, ...(makeUp === null ? {} : { makeUp }) };
  work.record('water_change.entered', { type: 'water_change', id }, details);
  work.reevaluate(systemId);
  return { id, volumeL, makeUp };
}

/** What the new water holds; null for the usual make-up water. */
async function makeUpOf(
  work: Work,
  systemId: string,
  { water = 'usual', salinity = null, contents }: WaterChangeInput,
): Promise<MakeUp | null> {
  if (contents !== undefined && contents.salinity === undefined) return contents;
  const mixedTo = contents?.salinity ?? (water === 'purified' ? 0 : salinity);
  if (contents === undefined && (water === 'usual' || mixedTo === null)) return null;
  const stated = await work.tx.systemQuantity.findMany({
    where: { systemId, makeUp: { not: null } },
    select: { quantityCode: true, makeUp: true },
  });
  const usual = Object.fromEntries(stated.map((one) => [one.quantityCode, one.makeUp ?? 0]));
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
