import type { Work } from '../../platform/change.ts';
import { endQuarantine } from './quarantines.ts';

interface Counted {
  id: string;
  tankId: string;
  name: string;
  startedAt: Date;
  restartedByThem: boolean;
  lastCode: string | null;
  lastAt: Date | null;
}

/**
 * Counts the quarantines of tanks as without lots that never came: from the last other lot that did, else from their beginning.
 * One that began with them (`since`), and into which nothing else came, ends. One query, and few for each tank.
 * @returns the names of the tanks of which the quarantine runs on
 */
export async function recountQuarantines(
  work: Work,
  tankIds: readonly string[],
  { lotIds, since }: { lotIds: readonly string[]; since: Date },
): Promise<string[]> {
  const rows = await work.tx.$queryRaw<Counted[]>`
    SELECT q.id, tank.id AS "tankId", tank.name, q.started_at AS "startedAt", last.code AS "lastCode", last.from_at AS "lastAt",
           q.restarted_by IN (SELECT code FROM lot WHERE id = ANY(${[...lotIds]}::uuid[])) AS "restartedByThem"
      FROM quarantine AS q JOIN tank ON tank.id = q.tank_id
      LEFT JOIN LATERAL (
        SELECT lot.code, placement.from_at FROM placement JOIN lot ON lot.id = placement.lot_id
          JOIN placement_slot AS there ON there.placement_id = placement.id JOIN slot ON slot.id = there.slot_id
          JOIN rack ON rack.id = slot.rack_id
         WHERE rack.tank_id = tank.id AND lot.id <> ALL(${[...lotIds]}::uuid[]) AND placement.from_at >= q.started_at AND NOT placement.stays
         ORDER BY placement.from_at DESC, lot.code LIMIT 1) AS last ON true
     WHERE q.tank_id = ANY(${[...tankIds]}::uuid[]) AND q.ended_at IS NULL ORDER BY tank.name`;
  const running: string[] = [];
  for (const { id, tankId, name, startedAt, restartedByThem, lastCode, lastAt } of rows) {
    if (startedAt >= since && lastAt === null) {
      await endQuarantine(work, tankId, {
        met: false,
        reason: 'The delivery with which it began was taken back.',
      });
      continue;
    }
    running.push(name);
    if (!restartedByThem) continue;
    const came = lastAt !== null && lastAt > startedAt ? lastAt : null;
    const data = { countsFrom: came ?? startedAt, restartedBy: came === null ? '' : (lastCode ?? '') };
    await work.tx.quarantine.update({ where: { id }, data: { ...data, version: { increment: 1 } } });
    work.record(
      'quarantine.restarted',
      { type: 'tank', id: tankId },
      { name, code: data.restartedBy, at: data.countsFrom },
    );
  }
  return running;
}
