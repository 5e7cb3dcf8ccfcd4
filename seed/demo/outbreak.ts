import { change } from '../../src/platform/change.ts';
import type { Service } from '../../src/platform/service.ts';
import { daysBefore } from '../../src/science/numeric/time.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import { addLot } from '../../src/stock/lots/lots.ts';
import { recordDelivery } from './delivery-record.ts';

/** Days before today: the boxes came, and each lot of them was first seen to lose flesh. */
const CAME = 40;
const SEEN = [5, 4, 4, 3, 2, 2] as const;
const pieces = [3, 4, 2, 3, 4, 3] as const;

/**
 * An outbreak on one delivery: six lots of one grower, set among the others on the racks of one water, and five of them lose
 * flesh within days. What they share is the delivery, no place.
 * @returns the grower, the water, and the lots that are ill
 */
export async function plantOutbreak(
  service: Service,
): Promise<{ origin: string; systemId: string; ill: string[] }> {
  const { db, pool } = service;
  const now = service.now();
  const site = await db.site.findFirstOrThrow({ orderBy: { createdAt: 'asc' } });
  const hand = await db.account.findFirstOrThrow({ where: { role: 'hand' } });
  const kind = await db.kind.findUniqueOrThrow({ where: { code: 'stylophora-pistillata' } });
  const origin = 'Angra coral nursery';
  // Slots that have stood by themselves since, one a rack as far as they go, where this kind has its light and its flow.
  const { rows: slots } = await pool.query<{ id: string; systemId: string }>(
    `SELECT id, "systemId" FROM (
       SELECT free.id, system.id AS "systemId", rack.name AS rack,
              row_number() OVER (PARTITION BY rack.id ORDER BY free.row DESC, free."column" DESC) AS nth
         FROM slot AS free JOIN rack ON rack.id = free.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
        WHERE system.site_id = $1 AND system.name = 'South hall' AND free.row <= rack.rows AND free."column" <= rack.columns AND NOT free.jet
          AND NOT EXISTS (SELECT FROM placement_slot AS was WHERE was.slot_id = free.id AND (was.to_at IS NULL OR was.to_at > $3))
          AND NOT EXISTS (
            SELECT 1 FROM placement_slot AS held JOIN slot AS near ON near.id = held.slot_id
             WHERE (held.to_at IS NULL OR held.to_at > $3) AND near.rack_id = rack.id AND abs(near.row - free.row) <= 2 AND abs(near."column" - free."column") <= 2)
     ) AS free ORDER BY nth, rack LIMIT $2`,
    [site.id, SEEN.length, daysBefore(now, CAME)],
  );
  const ill: string[] = [];
  const came: { id: string; name: string; pieces: number; par: number | null }[] = [];
  await change(service, { accountId: hand.id }, async (work) => {
    for (const [i, seen] of SEEN.entries()) {
      const { id } = await addLot(work, {
        ...{
          siteId: site.id,
          kindId: kind.id,
          permit: 'Papers on file',
          sizeMm: 35,
          isMother: false,
          note: '',
        },
        ...{ origin, arrivedAt: daysBefore(now, CAME), identification: null },
        ...{ pieces: pieces[i] ?? 3, slotIds: slots[i] === undefined ? [] : [slots[i].id] },
      });
      came.push({ id, name: `Cat's paw ${i + 1}`, pieces: pieces[i] ?? 3, par: i % 2 === 0 ? 220 : null });
      if (i === 0) continue;
      ill.push(id);
      const at = daysBefore(now, seen);
      await noteCondition(work, { lotId: id, state: 'receding', grade: 1, note: 'White edge', at });
    }
    const boxes = {
      siteId: site.id,
      supplier: origin,
      cameAt: daysBefore(now, CAME),
      boxDegC: 22.5,
      hours: 19,
    };
    await recordDelivery(work, boxes, came);
  });
  return { origin, systemId: slots[0]?.systemId ?? '', ill };
}
