import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { keepMovePlan } from '../../src/racks/move-plans/move-plans.ts';
import { doTask, lightTasks, moveTasks } from '../../src/rounds/tasks/tasks.ts';
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

  test('a move of a plan asks why; on a round it is held back, and a note there is the reason', async () => {
    const keep = (slot: string) =>
      bench.change((work) =>
        keepMovePlan(work, shelf.siteId, {
          name: 'Wrong places',
          moves: [{ lotId: lot.id, slotIds: [shelf.slot(slot)], why: '' }],
        }),
      );
    const plan = await keep('A4');
    const page = await manager.get(`/moves/${plan.id}`);
    expect(page.body).toContain(`An alert is open on this water: ${title}.`);
    expect(page.body).toContain('name="despite"');
    const [move] = await bench.service.db.plannedMove.findMany({ where: { planId: plan.id } });
    const refused = await manager.post(`/moves/${plan.id}/record`, { move: move?.id ?? '' });
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('Say why you move it anyway.');
    const [task] = await moveTasks(bench.service.pool, [shelf.systemId], bench.service.now());
    expect(task?.held).toContain('Leave the lots where they are.');
    expect(await placeOf()).toEqual([shelf.slot('A1')]);
    const tick = (note: string) =>
      bench.change((work) =>
        doTask(work, `move:${move?.id}`, { at: bench.service.now(), amount: null, note }),
      );
    await expect(tick('')).rejects.toThrow('Say why you move it anyway.');
    await tick('it was stung');
    expect(await placeOf()).toEqual([shelf.slot('A4')]);
    const back = await keep('A1');
    const [again] = await bench.service.db.plannedMove.findMany({ where: { planId: back.id } });
    const done = await manager.post(`/moves/${back.id}/record`, {
      move: again?.id ?? '',
      despite: 'a pump failed there',
    });
    expect(done.status).toBe(303);
    expect(await placeOf()).toEqual([shelf.slot('A1')]);
  });

  test('a step of an acclimation asks why, and says so before it is done', async () => {
    const { db } = bench.service;
    const today = new Date(benchNow.toISOString().slice(0, 10));
    const plan = await db.acclimation.create({
      data: {
        ...{ siteId: shelf.siteId, name: 'To the bright end', purpose: 'brighter', received: 'stated' },
        ...{ fromDli: 4, targetDli: 4.2, maxStepRatio: 1.5, dwellDays: 5, reason: '' },
        ...{ startsOn: today, createdAt: benchNow, lots: { create: [{ lotId: lot.id }] } },
        steps: {
          create: [
            { position: 1, dueOn: today, dli: 4.2, par: null, lotId: lot.id, slotIds: [shelf.slot('B2')] },
          ],
        },
      },
      include: { steps: true },
    });
    const page = await manager.get(`/stock/acclimations/${plan.id}`);
    expect(page.body).toContain(`An alert is open on this water: ${title}.`);
    expect(page.body).toContain('name="despite"');
    const record = (despite: string) =>
      manager.post(`/stock/acclimations/${plan.id}/record`, { step: plan.steps[0]?.id ?? '', despite });
    const refused = await record('');
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('Say why you move it anyway.');
    const [task] = await lightTasks(bench.service.pool, [shelf.systemId], bench.service.now());
    expect(task?.held).toContain(`An alert is open on this water: ${title}.`);
    expect((await record('it stands in a jet')).status).toBe(303);
    expect(await placeOf()).toEqual([shelf.slot('B2')]);
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

describe('a level that is far off a band that nobody chose', () => {
  const unchosen = 'Quiet water: alkalinity is above its starting band';
  const ready = async () => (await manager.get('/stock/ready?part=not')).body.replace(/\s+/g, ' ');
  const setAlert = (finding: object) =>
    bench.service.db.alert.update({
      where: { id: alertId },
      data: { severity: 'today', title: unchosen, clearedAt: null, finding },
    });

  test('holds up no sale and no tag by itself', async () => {
    await setAlert({ unchosenBand: true });
    expect(await ready()).not.toContain(unchosen);
    expect((await manager.get(`/tags/new?lot=${lot.code}`)).body).not.toContain(
      `An alert is open on this water: ${unchosen}.`,
    );
  });

  test('holds them up once it is beyond what does harm, or the band was chosen', async () => {
    await setAlert({});
    expect(await ready()).toContain(`Alert: ${unchosen}`);
    await setAlert({ unchosenBand: true });
    expect(await ready()).not.toContain(unchosen);
    await bench.service.db.alert.update({ where: { id: alertId }, data: { clearedAt: benchNow } });
  });
});

test('a trouble that somebody reported keeps the lots of its water from sale until it is ended', async () => {
  const told = 'reported trouble “Fish gasp, snails climb out, corals shrink”';
  const started = await manager.post('/emergencies', { event: 'oxygen', systems: shelf.systemId });
  expect(started.status).toBe(303);
  const ready = async () => (await manager.get('/stock/ready?part=not')).body.replace(/\s+/g, ' ');
  expect(await ready()).toContain(`Alert: ${told}`);
  expect((await manager.get(`/tags/new?lot=${lot.code}`)).body).toContain(told);
  expect((await manager.get(`/stock/${lot.code}/cut`)).body).toContain(
    `An alert is open on this water: ${told}.`,
  );
  await bench.service.db.emergency.updateMany({ data: { endedAt: benchNow, ending: 'a pump was jammed' } });
  expect(await ready()).not.toContain(told);
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

test('whoever packs an order sees the note of each lot, and what speaks against selling it', async () => {
  const title = 'Quiet water: ammonia';
  const taken = await manager.post('/stock/orders', {
    ...{ buyer: 'Reef Room', until: '2026-12-01', do: 'hold', ticked: lot.code },
    [`pieces_${lot.code}`]: 1,
  });
  expect(taken.status, taken.body).toBe(303);
  await bench.service.db.alert.update({
    where: { id: alertId },
    data: { severity: 'now', rule: 'ammonia', title, clearedAt: null, finding: {} },
  });
  const at = (taken.location ?? '').split('?')[0] ?? '';
  for (const page of [at, `${at}/packing`, `/tags${at.replace('/stock', '')}`]) {
    const { body } = await manager.get(page);
    expect(body, page).toContain('DO NOT SELL, for the show tank');
    expect(body, page).toContain(title);
  }
  const several = await manager.post('/tags/several', { lot: lot.code });
  expect(several.body).toContain('<b>Note</b> DO NOT SELL, for the show tank');
  await bench.service.db.alert.update({ where: { id: alertId }, data: { clearedAt: benchNow } });
});
