import type pg from 'pg';
import type { OffThing } from '../../generated/prisma/client.ts';
import type { Reader } from '../../platform/service.ts';

/** Something that is off now, as lists show it. */
export interface OffNow {
  id: string;
  systemId: string;
  systemName: string;
  tankName: string | null;
  equipmentId: string | null;
  feedingId: string | null;
  thing: OffThing;
  what: string;
  why: string;
  offAt: Date;
  dueAt: Date;
  lateAt: Date;
  onReturn: string;
  /** Who switched it off, and who looks after it now. */
  by: string | null;
  keeperId: string | null;
  keeper: string | null;
  /** To whom it is offered; null where it is not being handed over. */
  offeredToId: string | null;
  offeredTo: string | null;
}

const query = `
  SELECT off.id, off.system_id AS "systemId", system.name AS "systemName", tank.name AS "tankName",
         off.equipment_id AS "equipmentId", off.feeding_id AS "feedingId", off.thing, off.what, off.why, off.off_at AS "offAt",
         off.due_at AS "dueAt", off.late_at AS "lateAt", off.on_return AS "onReturn", maker.name AS by,
         off.keeper_id AS "keeperId", keeper.name AS keeper, off.offered_to_id AS "offeredToId", other.name AS "offeredTo"
    FROM switched_off AS off JOIN system ON system.id = off.system_id LEFT JOIN tank ON tank.id = off.tank_id
    LEFT JOIN account AS maker ON maker.id = off.account_id LEFT JOIN account AS keeper ON keeper.id = off.keeper_id
    LEFT JOIN account AS other ON other.id = off.offered_to_id
   WHERE off.seen_running_at IS NULL AND off.voided_at IS NULL`;

/** Everything that is off on a site now, due first. One query. */
export async function listOff(pool: pg.Pool, siteId: string): Promise<OffNow[]> {
  return (await pool.query<OffNow>(`${query} AND system.site_id = $1 ORDER BY off.due_at, off.id`, [siteId]))
    .rows;
}

/** Something that was off for a while; `to` null where nobody has seen it running again. */
export interface OffSpan {
  what: string;
  thing: OffThing;
  from: Date;
  to: Date | null;
}

/** What was off in a system within a time, oldest first; pumps off for a feeding are the feeding's. One query. */
export async function offBetween(pool: pg.Pool, systemId: string, from: Date, to: Date): Promise<OffSpan[]> {
  const between = `
    SELECT what, thing, off_at AS "from", seen_running_at AS "to" FROM switched_off
     WHERE system_id = $1 AND voided_at IS NULL AND feeding_id IS NULL AND off_at <= $3
       AND (seen_running_at IS NULL OR seen_running_at > $2)
     ORDER BY off_at, id`;
  return (await pool.query<OffSpan>(between, [systemId, from, to])).rows;
}

/** "Return pump, North hall, Tank 2": what is off, and where. */
export const placeOf = ({ systemName, tankName }: Pick<OffNow, 'systemName' | 'tankName'>): string =>
  [systemName, tankName].filter(Boolean).join(', ');

/** The names of accounts by id, those signed out for good included. */
export async function namesOf(db: Reader, ids: readonly (string | null)[]): Promise<Map<string, string>> {
  const known = ids.filter((id) => id !== null);
  const rows = await db.account.findMany({ where: { id: { in: known } }, select: { id: true, name: true } });
  return new Map(rows.map(({ id, name }) => [id, name]));
}
