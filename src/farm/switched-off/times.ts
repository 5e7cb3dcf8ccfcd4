import type pg from 'pg';
import type { OffThing } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import { type OffMinutes, thingCodes, things } from './things.rules.ts';

/** The times of one kind of thing as they are in force, with why the farm set its own. */
export interface OffTimes extends OffMinutes {
  thing: OffThing;
  /** Null where the service's own times hold. */
  reason: string | null;
}

/** The times in force of everything that can be off. One query. */
export async function timesInForce(pool: pg.Pool): Promise<OffTimes[]> {
  const query = 'SELECT thing, due_min AS "dueMin", late_min AS "lateMin", reason FROM off_time';
  const { rows } = await pool.query<OffTimes>(query);
  const own = new Map(rows.map((row) => [row.thing, row]));
  return thingCodes.map((thing) => {
    const { dueMin, lateMin } = own.get(thing) ?? things[thing];
    return { thing, dueMin, lateMin, reason: own.get(thing)?.reason ?? null };
  });
}

/** The times in force of one thing. */
export async function timesOf(db: Reader, thing: OffThing): Promise<OffMinutes> {
  return (await db.offTime.findUnique({ where: { thing } })) ?? things[thing];
}

/** What new times write over: the farm's own times of everything. */
export const timesStanding: Standing = {
  what: 'the times of what is off',
  read: ({ offTime }) =>
    offTime.findMany({
      select: { thing: true, dueMin: true, lateMin: true, reason: true },
      orderBy: { thing: 'asc' },
    }),
};

/** Sets the farm's own times of a thing; null goes back to the service's. What is off already keeps its times. */
export async function setOffTimes(
  work: Work,
  siteId: string,
  thing: OffThing,
  times: (OffMinutes & { reason: string }) | null,
): Promise<void> {
  if (times === null) await work.tx.offTime.deleteMany({ where: { thing } });
  else {
    const row = { ...times, accountId: work.accountId, at: work.now };
    await work.tx.offTime.upsert({ where: { thing }, create: { thing, ...row }, update: row });
  }
  work.record('off_time.set', { type: 'site', id: siteId }, { thing, times });
}
