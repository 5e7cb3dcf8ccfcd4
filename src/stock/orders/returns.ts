import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { localDay } from '../../platform/days.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { lotSubject } from '../base/lot-lock.ts';
import { inheritedFields } from '../cutting/cuts.ts';
import { copyIdentification } from '../lots/identifications.ts';
import { writeLedger } from '../lots/ledger.ts';
import { makeLot } from '../lots/lots.ts';
import { moveLot } from '../places/placements.ts';
import { usualDays } from '../quarantine/quarantines.ts';
import { stageRefusal } from './orders.rules.ts';
import { dayOf, lockOrder, writeStage } from './orders.ts';

/** What came back of an order. */
export interface Return {
  /** By the line's id. */
  lines: ReadonlyMap<string, { back: number; writtenOff: number }>;
  /** A rack in quarantine; null where they stand nowhere yet. */
  rackId: string | null;
  reason: string;
  timeZone: string;
  version: number;
}

/** A rack of a quarantine tank; `pests`: what its water is under watch for; `runs`: lots there are in quarantine now. */
export interface QuarantineRack {
  id: string;
  name: string;
  free: number;
  pests: string[];
  runs: boolean;
  /** Titles of open alerts on its water, where that is shared with the system. */
  troubles: string[];
}

const racksQuery = `
  SELECT rack.id, tank.name || ' · ' || rack.name AS name,
         (count(slot.id) FILTER (WHERE NOT EXISTS (SELECT FROM lot_place WHERE slot_id = slot.id)))::int AS free,
         ARRAY(SELECT DISTINCT pest FROM pest_watch AS watch WHERE watch.system_id = tank.system_id AND watch.ended_at IS NULL
                  AND watch.tank_id IS NOT DISTINCT FROM CASE WHEN tank.own_water <> '' THEN tank.id END) AS pests,
         ARRAY(SELECT title FROM water_trouble AS trouble WHERE trouble.system_id = tank.system_id AND tank.own_water = ''
                ORDER BY severity, opened_at, id) AS troubles,
         EXISTS (SELECT FROM quarantine WHERE quarantine.tank_id = tank.id AND quarantine.ended_at IS NULL) AS runs
    FROM rack JOIN tank ON tank.id = rack.tank_id AND tank.quarantine JOIN system ON system.id = tank.system_id AND system.retired_at IS NULL
    LEFT JOIN slot ON slot.rack_id = rack.id AND slot."row" <= rack.rows AND slot."column" <= rack.columns
   WHERE system.site_id = $1::uuid GROUP BY rack.id, tank.id ORDER BY tank.position, tank.name, rack.position, rack.name`;

/** The racks of a site's quarantine tanks with their free slots. One query. */
export async function quarantineRacks(reader: SqlReader, siteId: string): Promise<QuarantineRack[]> {
  return (await reader.query<QuarantineRack>(racksQuery, [siteId])).rows;
}

/**
 * Takes back what a buyer returned: pieces that live become a lot of their own, kept apart as one from elsewhere is, for
 * they were in other water; others are written off. The order then ends as returned.
 * @throws Refusal 404; 409 where nothing or more than was sold came back, or the rack has no room
 */
export async function returnOrder(work: Work, id: string, input: Return): Promise<{ codes: string[] }> {
  const order = await lockOrder(work, id, input.version);
  const refused = stageRefusal(order.stage, 'returned', input.reason);
  if (refused !== '')
    throw new Refusal(refused, { status: 409, field: refused === 'Say why.' ? 'reason' : '' });
  const lines = await work.tx.orderLine.findMany({ where: { orderId: id }, orderBy: { position: 'asc' } });
  const came = lines.flatMap((line) => {
    const { back, writtenOff } = input.lines.get(line.id) ?? { back: 0, writtenOff: 0 };
    if (back + writtenOff > line.pieces)
      throw new Refusal(`At most ${line.pieces} of this lot were sold.`, { field: `back_${line.id}` });
    return back + writtenOff === 0 ? [] : [{ line, back, writtenOff }];
  });
  if (came.length === 0) throw new Refusal('Enter how many pieces came back or were written off.');
  const slots = await freeSlotsOf(work, input.rackId, came.filter(({ back }) => back > 0).length);
  const codes: string[] = [];
  for (const { line, back, writtenOff } of came) {
    const lot = back === 0 ? null : await takeBack(work, { ...line, back }, order.number, input);
    const slotId = lot === null ? undefined : slots[codes.length];
    if (lot !== null && slotId !== undefined)
      await moveLot(work, {
        lotId: lot.id,
        slotIds: [slotId],
        at: work.now,
        despite: '',
        reason: 'Came back',
      });
    if (lot !== null) codes.push(lot.code);
    await work.tx.orderLine.update({
      where: { id: line.id },
      data: { backPieces: back, writtenOffPieces: writtenOff, backLotId: lot?.id ?? null },
    });
  }
  await writeStage(work, order, { from: order.stage, to: 'returned', reason: input.reason });
  return { codes };
}

async function takeBack(
  work: Work,
  { lotId, back }: { lotId: string; back: number },
  number: number,
  { reason, timeZone }: Pick<Return, 'reason' | 'timeZone'>,
): Promise<{ id: string; code: string }> {
  const from = await work.tx.lot.findUniqueOrThrow({ where: { id: lotId } });
  const { sizeMm, priceMinor } = from;
  const note = `Came back with order ${number}: ${reason}`;
  const row = { ...inheritedFields(from), sizeMm, priceMinor, isMother: false, arrivedAt: work.now };
  const made = await makeLot(work.tx, { ...row, origin: `Sold out of ${from.code}, came back`, note });
  const until = dayOf(localDay(daysAfter(work.now, usualDays), timeZone));
  await work.tx.lot.update({ where: { id: made.id }, data: { quarantineUntil: until } });
  const line = { lotId: made.id, at: work.now, change: back, reason: 'returned', note } as const;
  await writeLedger(work, line);
  await copyIdentification(work, from, made.id);
  work.record('lot.came_back', lotSubject(made.id), {
    from: from.code,
    into: made.code,
    pieces: back,
    number,
  });
  return made;
}

async function freeSlotsOf(work: Work, rackId: string | null, count: number): Promise<string[]> {
  if (rackId === null || count === 0) return [];
  const slots = await work.tx.$queryRaw<{ id: string; quarantine: boolean }[]>`
    SELECT slot.id, tank.quarantine FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
     WHERE rack.id = ${rackId}::uuid AND slot."row" <= rack.rows AND slot."column" <= rack.columns
       AND NOT EXISTS (SELECT FROM placement_slot AS held WHERE held.slot_id = slot.id AND held.to_at IS NULL)
     ORDER BY slot."row", slot."column" LIMIT ${count}`;
  if (slots[0] !== undefined && !slots[0].quarantine) throw notFound('This rack in quarantine');
  if (slots.length < count)
    throw new Refusal(`Only ${slots.length} of ${count} slots are free there. Choose another rack.`, {
      status: 409,
      field: 'rack',
    });
  return slots.map(({ id }) => id);
}
