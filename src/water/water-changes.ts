import type pg from 'pg';
import { z } from 'zod';
import type { Work } from '../platform/change.ts';
import { Refusal } from '../platform/refusal.ts';
import { choice, number, optionalText } from '../platform/web/fields.ts';
import { pastMoment } from '../platform/web/moments.ts';
import { type LogEntry, type LogQuestion, readLog } from './log.ts';
import { litres } from './numbers.ts';
import { findOpenWater } from './systems.ts';

/** A water change as entered: litres, or per cent of the system. */
export const waterChangeSchema = (timeZone: string, now: Date) =>
  z.object({
    amount: number({ what: 'how much was changed', low: 0.01, high: 1e7 }),
    unit: choice(['L', '%'], 'Choose litres or per cent.'),
    at: pastMoment(timeZone, now),
    note: optionalText(),
  });

export type WaterChangeInput = z.output<ReturnType<typeof waterChangeSchema>>;

export interface WaterChange extends LogEntry {
  volumeL: number;
  note: string;
}

/** @throws Refusal when the system is retired, or more would be changed than it holds */
export async function addWaterChange(
  work: Work,
  systemId: string,
  input: WaterChangeInput,
): Promise<{ id: string; volumeL: number }> {
  const system = await findOpenWater(work.tx, systemId);
  const volumeL = input.unit === '%' ? (system.volumeL * input.amount) / 100 : input.amount;
  if (volumeL > system.volumeL) {
    const message = `${system.name} holds ${litres(system.volumeL)}. Enter no more than that; several changes in a day are several entries.`;
    throw new Refusal(message, { field: 'amount' });
  }
  const { id } = await work.tx.waterChange.create({
    data: { systemId, at: input.at, volumeL, note: input.note, accountId: work.by, createdAt: work.now },
  });
  work.note('water_change.entered', { type: 'water_change', id }, { system: system.name, volumeL });
  work.touch(systemId);
  return { id, volumeL };
}

export async function listWaterChanges(pool: pg.Pool, question: LogQuestion): Promise<WaterChange[]> {
  return readLog(pool, 'water_change', 'entry.volume_l AS "volumeL", entry.note', question);
}
