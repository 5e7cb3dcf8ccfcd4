import type { Quarantine } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { daysBetween } from '../../science/numeric/time.ts';

/** What a quarantine is for, and when it ends. */
export interface NewQuarantine {
  tankId: string;
  purpose: string;
  /** Code of the pest it is for; '' where it is for none. */
  pest: string;
  /** What has to be so before it ends, in words. */
  until: string;
  /** Whole days it lasts at least, from the last animal that came. */
  days: number;
}

/** Days that a quarantine lasts which nobody gave another length (30 to 45 are common practice). */
export const usualDays = 30;

const ofTank = (id: string) => ({ type: 'tank' as const, id });

/** The quarantine that has not ended in a tank; null where there is none. */
export const openQuarantine = (db: Reader, tankId: string): Promise<Quarantine | null> =>
  db.quarantine.findFirst({ where: { tankId, endedAt: null } });

/** What a new purpose, or the end, of a tank's quarantine writes over. */
export const quarantineStanding = (tankId: string): Standing => ({
  what: 'this quarantine',
  read: async (db) => {
    const open = await openQuarantine(db, tankId);
    return open === null ? null : [open.id, open.version];
  },
});

async function lockTank(tx: Tx, id: string) {
  await tx.$queryRaw`SELECT id FROM tank WHERE id = ${id}::uuid FOR NO KEY UPDATE`;
  const tank = await tx.tank.findUnique({ where: { id } });
  if (tank === null) throw notFound('This tank');
  return tank;
}

/**
 * Begins a quarantine, or says another purpose and end of the one that runs; its days go on from the last arrival.
 * @throws Refusal 404; 422 where the tank is not ticked as quarantine
 */
export async function setQuarantine(work: Work, input: NewQuarantine): Promise<{ id: string }> {
  const tank = await lockTank(work.tx, input.tankId);
  if (!tank.quarantine)
    throw new Refusal('This tank is not ticked as quarantine. Tick it under Farm first, with its own water.');
  const open = await openQuarantine(work.tx, tank.id);
  const { tankId: _, ...said } = input;
  work.reevaluate(tank.systemId);
  if (open !== null) {
    await work.tx.quarantine.update({ where: { id: open.id }, data: { ...said, version: { increment: 1 } } });
    work.record('quarantine.changed', ofTank(tank.id), { name: tank.name, ...said });
    return { id: open.id };
  }
  const times = { startedAt: work.now, countsFrom: work.now, accountId: work.accountId };
  const { id } = await work.tx.quarantine.create({ data: { ...input, ...times } });
  work.record('quarantine.started', ofTank(tank.id), { name: tank.name, ...said });
  return { id };
}

/** A lot came into a tank: its quarantine counts from now on, and begins where the tank is ticked and none runs. */
export async function arriveInQuarantine(
  work: Work,
  tankId: string,
  { code, at }: { code: string; at: Date },
): Promise<void> {
  const tank = await work.tx.tank.findUnique({ where: { id: tankId } });
  if (tank === null || !tank.quarantine) return;
  await lockTank(work.tx, tankId);
  const open = await openQuarantine(work.tx, tankId);
  if (open === null) {
    const said = { purpose: 'observe', days: usualDays, startedAt: at, countsFrom: at, restartedBy: code };
    await work.tx.quarantine.create({ data: { tankId, ...said, accountId: work.accountId } });
    work.record('quarantine.started', ofTank(tankId), { name: tank.name, ...said });
    return;
  }
  if (at <= open.countsFrom) return;
  const data = { countsFrom: at, restartedBy: code, version: { increment: 1 } };
  await work.tx.quarantine.update({ where: { id: open.id }, data });
  work.record('quarantine.restarted', ofTank(tankId), { name: tank.name, code, at });
}

/** Whole days that are left of a quarantine; 0 where its days are over. */
export function daysLeft({ countsFrom, days }: Pick<Quarantine, 'countsFrom' | 'days'>, now: Date): number {
  return Math.max(0, days - Math.floor(daysBetween(countsFrom, now)));
}

/**
 * Ends a quarantine. What had to be so is confirmed; where its days are not over, `reason` says why it ends all the same.
 * @throws Refusal 404; 409 where it has ended, or its days are not over and no reason is given
 */
export async function endQuarantine(
  work: Work,
  tankId: string,
  { met, reason }: { met: boolean; reason: string },
): Promise<{ name: string }> {
  const { name, systemId } = await lockTank(work.tx, tankId);
  const open = await openQuarantine(work.tx, tankId);
  if (open === null) throw new Refusal('No quarantine runs in this tank.', { status: 409 });
  const left = daysLeft(open, work.now);
  const late =
    left > 0
      ? `It has ${left} of ${open.days} days left since ${open.restartedBy === '' ? 'it began' : `${open.restartedBy} came`}.`
      : '';
  if (reason === '' && (late !== '' || !met)) {
    const what = open.until === '' ? 'that nothing speaks against its end' : `that this is so: ${open.until}`;
    throw new Refusal(
      late === '' ? `Tick ${what}, or say why it ends anyway.` : `${late} Wait, or say why it ends anyway.`,
      {
        status: 409,
        field: 'reason',
      },
    );
  }
  const why = reason === '' ? 'Its days are over and its end is met.' : reason;
  await work.tx.quarantine.update({
    where: { id: open.id },
    data: { endedAt: work.now, endedWhy: why, endedById: work.accountId, version: { increment: 1 } },
  });
  work.record('quarantine.ended', ofTank(tankId), { name, why, met, daysLeft: left });
  work.reevaluate(systemId);
  return { name };
}

/** The lots that stand in a tank, by code. One query. */
export async function lotsInTank(
  reader: SqlReader,
  tankId: string,
): Promise<{ code: string; kind: string; pieces: number; since: Date }[]> {
  const { rows } = await reader.query<{ code: string; kind: string; pieces: number; since: Date }>(
    `SELECT lot.code, kind.name AS kind, lot.pieces, min(lot_place.from_at) AS since
       FROM lot_place JOIN lot ON lot.id = lot_place.lot_id JOIN kind ON kind.id = lot.kind_id
      WHERE lot_place.tank_id = $1::uuid AND lot.pieces > 0 GROUP BY lot.id, kind.name ORDER BY lot.code`,
    [tankId],
  );
  return rows;
}

/** Why lots left a quarantine before its end, the newest first. One query. */
export async function reasonsToLeave(
  reader: SqlReader,
  quarantineId: string,
): Promise<{ code: string; reason: string; at: Date; by: string }[]> {
  const { rows } = await reader.query<{ code: string; reason: string; at: Date; by: string }>(
    `SELECT lot.code, kept.reason, kept.at, coalesce(account.name, '') AS by
       FROM kept_apart_reason AS kept JOIN lot ON lot.id = kept.lot_id LEFT JOIN account ON account.id = kept.account_id
      WHERE kept.quarantine_id = $1::uuid ORDER BY kept.at DESC, kept.id`,
    [quarantineId],
  );
  return rows;
}
