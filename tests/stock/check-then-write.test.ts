import { setTimeout as wait } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Work } from '../../src/platform/change.ts';
import { countLot } from '../../src/stock/lots/ledger.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

// Two people at once: what one of them looked at is changed by the other before it is written.

let bench: Bench;
let hall: Hall;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

/** Whether something in this database waits for what another transaction holds. */
async function isHeldUp(): Promise<boolean> {
  const { rowCount } = await bench.service.pool.query(
    `SELECT FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'`,
  );
  return rowCount !== 0;
}

/** Does something, asks for the other thing while it is not kept yet, and gives the answer to that. */
async function meanwhile<T>(first: (work: Work) => Promise<unknown>, second: () => Promise<T>): Promise<T> {
  let asked: Promise<T> | undefined;
  await bench.change(async (work) => {
    await first(work);
    let isAnswered = false;
    asked = second().finally(() => {
      isAnswered = true;
    });
    while (!isAnswered && !(await isHeldUp())) await wait(10);
  });
  return (await asked) as T;
}

test('a tag is not issued for pieces that are lost while it is made', async () => {
  const { id: lotId, code } = hall.lots.A1;
  const lost = { lotId, reason: 'lost' as const, pieces: 4, at: benchNow, note: '' };
  const answer = await meanwhile(
    (work) => countLot(work, lost),
    () => manager.post('/tags', { lot: code, pieces: 5, reason: '' }),
  );
  expect(answer.status).toBe(422);
  expect(answer.body).toContain('There are only 1 piece');
  expect(await bench.service.db.tag.count()).toBe(0);
});

test('a system is not taken out of service while a lot is placed in it, and none is placed in one that is', async () => {
  const { db } = bench.service;
  const other = await makeHall(bench);
  for (const lot of Object.values(other.lots))
    await bench.change((work) => moveLot(work, { lotId: lot.id, slotIds: [], at: benchNow, reason: 'away' }));
  const slot = await db.slot.findFirstOrThrow({ where: { rackId: other.window } });
  const { name, volumeL, version } = await db.system.findUniqueOrThrow({ where: { id: other.systemId } });
  const retire = () =>
    manager.post(`/farm/systems/${other.systemId}`, { name, volumeL, note: '', version, retired: 'on' });
  const at = new Date(benchNow.getTime() + 60_000);
  bench.at(at);
  const move = { lotId: hall.lots.A2.id, slotIds: [slot.id], at, reason: 'moved' };
  const refused = await meanwhile((work) => moveLot(work, move), retire);
  expect(refused.status, refused.body).toBe(409);
  expect((await db.system.findUniqueOrThrow({ where: { id: other.systemId } })).retiredAt).toBeNull();

  await bench.change((work) => moveLot(work, { ...move, slotIds: [] }));
  expect((await retire()).status).toBe(303);
  const { status, body } = await manager.post(`/lots/${hall.lots.A2.id}/placements`, {
    slot: slot.id,
    at: at.toISOString().slice(0, 16),
    reason: '',
  });
  expect(status).toBe(409);
  expect(body).toContain('is out of service');
});
