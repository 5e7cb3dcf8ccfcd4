import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { keepMovePlan } from '../../src/racks/move-plans/move-plans.ts';
import { readMovePlans, waitsFor } from '../../src/racks/move-plans/state.ts';
import { freeSlots, listRacks } from '../../src/stock/places/free-slots.ts';
import { whyNotMoved } from '../../src/stock/places/several-moves.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

// A rack of 2 x 12 slots that is made one of 2 x 5: the slots that it lost stay in the records of what stood there.

let bench: Bench;
let manager: Visitor;
let shelf: Shelf;
let lot: { id: string; code: string };
let planId: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  shelf = await makeShelf(bench);
  manager = await bench.as('manager');
  lot = await shelf.lot({ slotIds: [shelf.slot('A1')] });
  const plan = await keep('B12');
  planId = plan.id;
  await bench.service.db.rack.update({ where: { id: shelf.rackId }, data: { columns: 5 } });
});
afterAll(() => bench.close());

const keep = (slot: string) =>
  bench.change((work) =>
    keepMovePlan(work, shelf.siteId, {
      name: 'To the end',
      moves: [{ lotId: lot.id, slotIds: [shelf.slot(slot)], why: '' }],
    }),
  );

describe('slots that a rack lost when it was made smaller', () => {
  test('are not counted as free, nor offered', async () => {
    const [rack] = await listRacks(bench.service.pool, shelf.siteId);
    expect(rack?.free).toBe(9);
    const offered = await freeSlots(bench.service.pool, shelf.rackId, lot.id, bench.service.now());
    expect(offered.map(({ name }) => name)).toEqual('A1 A2 A3 A4 A5 B1 B2 B3 B4 B5'.split(' '));
    const page = await manager.get(`/stock/${lot.code}/place`);
    expect(page.body).toContain(shelf.slot('A5'));
    expect(page.body).not.toContain(shelf.slot('A6'));
  });

  test('take no lot: alone, with others, or by a plan', async () => {
    const sent = await manager.post(`/lots/${lot.id}/placements`, { slot: shelf.slot('A9') });
    expect(sent.status).toBeGreaterThanOrEqual(400);
    expect(sent.body).toContain('That slot is no longer part of the rack. Choose another one.');
    const asked = [{ lotId: lot.id, code: lot.code, slotIds: [shelf.slot('A9')] }];
    const why = await whyNotMoved(bench.service.pool, shelf.siteId, asked, bench.service.now());
    expect(why).toEqual(['There is no such slot.']);
    await bench.change((work) =>
      work.tx.movePlan
        .update({ where: { id: planId }, data: { endedAt: work.now, endReason: 'asked anew' } })
        .then(() => work.record('move_plan.ended', { type: 'move_plan', id: planId }, {})),
    );
    await expect(keep('B11')).rejects.toThrow('not there any more');
  });

  test('of a plan made before are told of, and what to do', async () => {
    const [plan] = await readMovePlans(bench.service.pool, { id: planId });
    const [move] = plan?.moves ?? [];
    if (plan === undefined || move === undefined) throw new Error('no plan');
    expect(waitsFor(plan, move)).toBe(
      'Rack S2, B12 is not on its rack any more. Leave this move out and plan again.',
    );
  });
});
