import type pg from 'pg';
import { z } from 'zod';
import { seeRunning, switchOff } from '../../farm/switched-off/switched-off.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { optionalMass } from '../../platform/web/fields/measures.ts';
import { optionalChosen, optionalNumber, optionalText, text, tick } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { lockOpenWaterSystem } from '../systems/systems.ts';
import { amountWords, holdWords } from './feeding-check.rules.ts';
import { feedingContext } from './feeding-check.ts';
import { type LogEntry, type LogQuery, readLog } from './log.ts';

/** A feeding as entered; the whole system when no tank is named. */
export const feedingSchema = (timeZone: string, now: Date) =>
  z.object({
    food: text('what was fed'),
    amountG: optionalMass({ what: 'the amount', low: 0.001, high: 1e5 }),
    tankId: optionalChosen(),
    pumpsOffMin: optionalNumber({
      what: 'how long the pumps are off',
      low: 1,
      high: 240,
      unit: 'min',
    }).transform((minutes) => (minutes === null ? null : Math.round(minutes))),
    response: optionalText(300),
    at: pastMoment(timeZone, now),
    reason: optionalText(500),
    sure: tick(),
  });

/** A feeding to be logged; `reason`: why it is fed although something holds it; `sure`: the amount is correct, though unusual. */
export type FeedingInput = Omit<z.output<ReturnType<typeof feedingSchema>>, 'reason' | 'sure'> & {
  reason?: string;
  sure?: boolean;
};

export interface Feeding extends LogEntry {
  food: string;
  amountG: number | null;
  tankId: string | null;
  tank: string | null;
  pumpsOffMin: number | null;
  pumpsOnAt: Date | null;
  /** True where it switched pumps off here; a feeding of a file did not. */
  switchedOff: boolean;
  response: string;
}

/**
 * Refuses what nobody gave a reason for. An instrument's went in already.
 * @throws Refusal where something holds the food back and no reason is given, or the amount is far beyond the usual
 */
async function askWhy(work: Work, systemId: string, input: FeedingInput): Promise<void> {
  const { food, at, amountG, reason = '', sure = false } = input;
  if (reason !== '' || work.accessKeyId !== null) return;
  const context = await feedingContext(readerOf(work.tx), { systemId, food, at });
  const held = holdWords(context.holds);
  if (held !== '') throw new Refusal(`${held} If it was fed anyway, say why.`, { field: 'reason' });
  const far = amountWords(amountG, context);
  if (far !== '' && !sure) throw new Refusal(far, { field: 'amountG-sure' });
}

/**
 * Logs a feeding.
 * @throws Refusal when the system is retired, the tank is of another system, or the feeding wants a reason and has none
 */
export async function addFeeding(work: Work, systemId: string, input: FeedingInput): Promise<{ id: string }> {
  const system = await lockOpenWaterSystem(work.tx, systemId);
  if (input.tankId !== null && (await work.tx.tank.count({ where: { id: input.tankId, systemId } })) === 0) {
    throw new Refusal(`Choose a tank of ${system.name}.`, { field: 'tankId' });
  }
  await askWhy(work, systemId, input);
  const { reason = '', sure: _, ...fed } = input;
  const { id } = await work.tx.feeding.create({
    data: { systemId, ...fed, accountId: work.accountId, createdAt: work.now },
  });
  work.record(
    'feeding.entered',
    { type: 'feeding', id },
    {
      ...{ system: system.name, food: input.food, pumpsOffMin: input.pumpsOffMin },
      ...(reason === '' ? {} : { reason }),
    },
  );
  work.reevaluate(systemId);
  if (input.pumpsOffMin !== null) {
    const { at, food, tankId, pumpsOffMin: minutes } = input;
    const off = { feedingId: id, tankId, at, minutes, what: 'Pumps', why: `Feeding: ${food}` };
    await switchOff(work, { systemId, thing: 'all_flow', ...off });
  }
  return { id };
}

/** Notes that the pumps run again after a feeding. Noted twice, the first time counts. @throws Refusal 404 */
export async function notePumpsOn(work: Work, id: string): Promise<{ systemId: string }> {
  const feeding = await work.tx.feeding.findUnique({ where: { id } });
  if (feeding === null) throw notFound('This feeding');
  const off = await work.tx.switchedOff.findUnique({ where: { feedingId: id } });
  if (off === null) work.record('feeding.pumps_on_again', { type: 'feeding', id });
  else await seeRunning(work, off.id);
  return { systemId: feeding.systemId };
}

/** Notes how the stock took the food; a later note is added to the one before. @throws Refusal 404 */
export async function noteResponse(work: Work, id: string, response: string): Promise<{ systemId: string }> {
  const feeding = await work.tx.feeding.findUnique({ where: { id } });
  if (feeding === null) throw notFound('This feeding');
  const joined = [feeding.response, response].filter((part) => part !== '').join('; ');
  await work.tx.feeding.update({ where: { id }, data: { response: joined } });
  work.record('feeding.response_noted', { type: 'feeding', id }, { response });
  return { systemId: feeding.systemId };
}

export async function listFeedings(pool: pg.Pool, query: LogQuery): Promise<Feeding[]> {
  const columns = `entry.food, entry.amount_g AS "amountG", entry.tank_id AS "tankId", tank.name AS tank, entry.pumps_off_min AS "pumpsOffMin",
    off.seen_running_at AS "pumpsOnAt", off.id IS NOT NULL AS "switchedOff", entry.response`;
  return readLog(
    pool,
    'FROM feeding AS entry',
    columns,
    query,
    // Looked up for each: joined, all that was ever switched off would be read.
    'LEFT JOIN tank ON tank.id = entry.tank_id LEFT JOIN LATERAL (SELECT * FROM switched_off WHERE feeding_id = entry.id OFFSET 0) AS off ON true',
  );
}

/** The tanks of a system that a feeding can name, in the order of the farm. */
export const listFedTanks = (db: Reader, systemId: string): Promise<{ id: string; name: string }[]> =>
  db.tank.findMany({
    where: { systemId },
    orderBy: { position: 'asc' },
    select: { id: true, name: true },
  });

/** Foods fed in this system before, the commonest first: suggestions for the form. */
export async function usedFoods(db: Reader, systemId: string): Promise<string[]> {
  const rows = await db.feeding.groupBy({
    by: ['food'],
    where: { systemId, voidedAt: null },
    _count: true,
    orderBy: { _count: { food: 'desc' } },
    take: 20,
  });
  return rows.map((row) => row.food);
}
