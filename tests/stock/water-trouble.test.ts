import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

let bench: Bench;
let manager: Visitor;
let shelf: Shelf;
let lot: { id: string; code: string };
let alertId: string;

const title = 'Quiet water: temperature rises fast';

beforeAll(async () => {
  bench = await startBench({ watching: false });
  shelf = await makeShelf(bench);
  manager = await bench.as('manager');
  lot = await shelf.lot({ slotIds: [shelf.slot('A1')], note: 'DO NOT SELL, for the show tank' });
  const alert = await bench.service.db.alert.create({
    data: {
      ...{ rule: 'out-of-band', subjectType: 'system', subjectId: shelf.systemId, systemId: shelf.systemId },
      ...{ severity: 'now', title, finding: {}, worst: 1, openedAt: benchNow, evaluatedAt: benchNow },
    },
  });
  alertId = alert.id;
});
afterAll(() => bench.close());

const placeOf = async () =>
  (
    await bench.service.db.placementSlot.findMany({
      where: { placement: { lotId: lot.id, toAt: null }, toAt: null },
    })
  ).map(({ slotId }) => slotId);

describe('while an urgent alert is open on a water', () => {
  test('a move within it says so first, and asks why', async () => {
    const to = shelf.slot('A5');
    const page = await manager.get(`/racks/move?lot=${lot.code}&slot=${to}`);
    expect(page.body).toContain(`An alert is open on this water: ${title}.`);
    expect(page.body).toContain('name="despite"');
    const refused = await manager.post(`/lots/${lot.id}/placements`, { slot: to });
    expect(refused.status).toBe(409);
    expect(refused.body).toContain(`An alert is open on this water: ${title}.`);
    expect(await placeOf()).toEqual([shelf.slot('A1')]);
    const told = await manager.post(`/lots/${lot.id}/placements`, {
      slot: to,
      despite: 'it lies under a jet',
    });
    expect(told.status).toBe(303);
    expect(await placeOf()).toEqual([to]);
    const kept = await bench.service.db.journalLine.findFirstOrThrow({
      where: { kind: 'kept_apart.overridden' },
    });
    expect(kept.detail).toMatchObject({ act: 'move', reason: 'it lies under a jet' });
  });

  test('several lots are moved within it only with a reason', async () => {
    const form = { lot: lot.code, to: `${lot.code}:${shelf.slot('B1')}`, sure: 'yes' };
    const seen = await manager.post('/racks/move-several', form);
    expect(seen.body).toContain(`An alert is open on this water: ${title}.`);
    expect(await placeOf()).toEqual([shelf.slot('A5')]);
  });

  test('it is left, or its rack, without a question', async () => {
    const away = await manager.post(`/lots/${lot.id}/placements`, { off: 'yes' });
    expect(away.status).toBe(303);
    expect(await placeOf()).toEqual([]);
    expect((await manager.post(`/lots/${lot.id}/placements`, { slot: shelf.slot('A1') })).status).toBe(303);
  });

  test('a cut asks why, alone and among several', async () => {
    expect((await manager.get(`/stock/${lot.code}/cut`)).body).toContain(
      `An alert is open on this water: ${title}.`,
    );
    const cut = await manager.post(`/lots/${lot.id}/cuts`, { pieces: 2 });
    expect(cut.status).toBe(409);
    expect(cut.body).toContain('Say why you cut it anyway.');
    const several = await manager.post('/stock/several/cut', { lot: lot.code, pieces: 2 });
    expect(several.body).toContain(`An alert is open on this water: ${title}.`);
    expect(await bench.service.db.cut.count()).toBe(0);
  });

  test('a tag asks why, and its page says what the alert is', async () => {
    expect((await manager.get(`/tags/new?lot=${lot.code}`)).body).toContain(title);
    const tag = { lot: lot.code, pieces: 1, reason: '' };
    expect((await manager.post('/tags', { ...tag, hereAlone: 'yes' })).status).toBe(409);
    expect((await manager.post('/tags', { ...tag, hereAlone: 'yes', reason: 'sold last week' })).status).toBe(
      303,
    );
  });

  test('none of its lots is ready to sell; once it is over the alert is no reason any more', async () => {
    const words = async () => (await manager.get('/stock/ready?part=not')).body.replace(/\s+/g, ' ');
    expect(await words()).toContain(`Alert: ${title}`);
    await bench.service.db.alert.update({ where: { id: alertId }, data: { clearedAt: benchNow } });
    expect(await words()).not.toContain(title);
    expect((await manager.get(`/racks/move?lot=${lot.code}&slot=${shelf.slot('A5')}`)).body).not.toContain(
      'name="despite"',
    );
  });
});

test('what the farm wrote of a lot stands wherever it is sold from', async () => {
  for (const page of [
    '/stock/ready?part=not',
    `/stock/${lot.code}/sale`,
    `/stock/${lot.code}/hold`,
    `/tags/new?lot=${lot.code}`,
    '/export/ready.csv',
  ])
    expect((await manager.get(page)).body.toString(), page).toContain('DO NOT SELL, for the show tank');
});
