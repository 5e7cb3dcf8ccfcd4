import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { waterTroubles } from '../../src/alerts/water-trouble.ts';
import { lookAtMissedChecks } from '../../src/rounds/schedule/missed-checks.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { begin, type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// A pump that had fallen was written under "equipment checked", which was ticked, and nobody was told.

let bench: Bench;
let hall: Hall;
let hand: Visitor;
let planId: string;
let roundId: string;
let pump: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  hand = await bench.as('hand', 'Rui');
  planId = await planRound(bench, hall, { steps: ['check'] });
  roundId = await begin(bench, hall, planId, '2026-11-24');
  const { db } = bench.service;
  pump = (
    await db.equipment.create({ data: { systemId: hall.systemId, kind: 'wave_pump', name: 'Left pump' } })
  ).id;
});
afterAll(() => bench.close());

const alerts = async () => {
  await evaluateSystems(bench.service, [hall.systemId], bench.service.now());
  const open = await openAlerts(bench.service.pool, { systemId: hall.systemId });
  return open.filter(({ rule }) => rule === 'equipment-fault' || rule === 'still-off');
};
const send = (...entries: object[]) =>
  hand.send(
    `/api/rounds/${roundId}/entries`,
    entries.map((one) => ({ id: uuidv7(), ...one })),
  );
const check = () => `check:${hall.systemId}`;

test('what changed the water is logged on the round in two taps, with the time of the tap', async () => {
  const page = (await hand.get(`/rounds/${roundId}/systems/${hall.systemId}`)).body;
  expect(page).toMatch(/name="event" value="power_cut">Power cut</);
  const at = new Date(bench.service.now().getTime() - 5 * 60_000).toISOString();
  const sent = await send({ kind: 'event', systemId: hall.systemId, event: 'media_changed', at });
  expect(sent.status).toBe(200);
  const [event] = await bench.service.db.systemEvent.findMany();
  expect(event).toMatchObject({ kind: 'media_changed', systemId: hall.systemId });
  expect((await hand.get(`/rounds/${roundId}/end`)).body).toContain('Media changed');
  const refused = (await send({ kind: 'event', systemId: hall.systemId, event: 'rain', at })).json();
  expect(JSON.stringify(refused)).toContain('Choose what happened.');
});

test('a check offers all right or what is wrong; what is wrong is an alert at once, with who saw it', async () => {
  const page = (await hand.get(`/rounds/${roundId}/systems/${hall.systemId}`)).body;
  expect(page).toContain('All right');
  expect(page).toContain('Something is wrong');
  expect(page).toContain('Left pump');
  const answer = await send({
    kind: 'fault',
    systemId: hall.systemId,
    equipmentId: pump,
    key: check(),
    seen: 'fallen, lies on the sand',
  });
  expect(answer.status).toBe(200);
  expect(await alerts()).toMatchObject([
    { severity: 'now', title: expect.stringContaining('Left pump: fallen') },
  ]);
  expect((await alerts())[0]?.finding.numbers).toContain('by Rui');
  expect((await hand.get(`/rounds/${roundId}/systems/${hall.systemId}`)).body).toContain(
    'something is wrong',
  );
});

test('it ends when somebody says what was done', async () => {
  const { id } = await bench.service.db.fault.findFirstOrThrow();
  expect((await hand.post(`/farm/faults/${id}/mended`, { mended: '' })).status).toBe(422);
  await hand.post(`/farm/faults/${id}/mended`, { mended: 'fixed to the glass again' });
  expect(await alerts()).toEqual([]);
});

test('all right notes that the equipment was seen running', async () => {
  await send({ kind: 'chore', key: check() });
  const { seenRunningAt } = await bench.service.db.equipment.findUniqueOrThrow({ where: { id: pump } });
  expect(seenRunningAt).not.toBeNull();
});

test('something is switched off on the round in two taps, and seen running by the key of that tap', async () => {
  const off = uuidv7();
  const sent = {
    id: off,
    kind: 'switch_off',
    systemId: hall.systemId,
    pick: `equipment:${pump}`,
    why: 'Cleaning',
  };
  await send(sent);
  expect((await hand.get('/stock')).body).toContain('Left pump off in');
  expect((await hand.get(`/rounds/${roundId}/systems/${hall.systemId}`)).body).toContain('Seen running');
  expect((await hand.get(`/rounds/${roundId}/end`)).body).toMatch(
    /Still off<\/h2>[\s\S]*Left pump<\/strong> off in/,
  );
  await send({ kind: 'seen_running', offId: off });
  expect((await hand.get(`/rounds/${roundId}/end`)).body).not.toContain('Still off');
  expect((await hand.get('/stock')).body).not.toContain('Left pump off in');
});

test('a check that nobody answered is told of hours later, and again no more once it is answered', async () => {
  const late = await planRound(bench, hall, { name: 'Evening round', steps: ['check'], startsAt: '16:00' });
  bench.at('2026-11-24T19:00:00Z');
  await lookAtMissedChecks(bench.service, bench.service.now());
  expect((await alerts()).map(({ title }) => title).join()).not.toContain('Evening round');
  bench.at('2026-11-24T20:30:00Z');
  await lookAtMissedChecks(bench.service, bench.service.now());
  await lookAtMissedChecks(bench.service, bench.service.now());
  const told = (await alerts()).filter(({ title }) =>
    title.includes('equipment not checked on Evening round'),
  );
  expect(told).toHaveLength(1);
  // Nobody saw anything: it says that nobody looked, and asks for a look and no repair.
  const [alert] = told;
  // It keeps no lot from sale: nothing is known to be wrong with its water.
  expect(alert?.severity).toBe('today');
  expect(await waterTroubles(bench.service.pool, [hall.systemId])).toEqual([]);
  const page = (await hand.get(`/watch/${alert?.id}`)).body;
  expect(alert?.finding.why).toMatch(
    /^Nobody answered for the check: whether everything runs is not known\./,
  );
  expect(page).not.toMatch(/saw it and noted it|noted by|Mended/);
  expect(page).toContain('I checked: all is right');
  expect((await hand.get('/watch')).body).toContain('Go and check<span class="unseen">');
  expect((await hand.get(`/farm/systems/${hall.systemId}/faults`)).body).toContain('I checked: all is right');
  roundId = await begin(bench, hall, late, '2026-11-24');
  await send({ kind: 'chore', key: check() });
  expect(await alerts()).toEqual([]);
});

test('a float is tested on the round when its test is due, and not before', async () => {
  const { db } = bench.service;
  bench.at('2026-11-24T08:00:00Z');
  const data = {
    systemId: hall.systemId,
    kind: 'float_switch' as const,
    name: 'Sump float',
    testEveryDays: 30,
  };
  const { id } = await db.equipment.create({
    data: { ...data, createdAt: new Date('2026-11-01T08:00:00Z') },
  });
  const screen = async () => (await hand.get(`/rounds/${roundId}/systems/${hall.systemId}`)).body;
  expect(await screen()).not.toContain('Test Sump float');
  await db.equipment.update({ where: { id }, data: { createdAt: new Date('2026-10-20T08:00:00Z') } });
  expect(await screen()).toContain('Test Sump float');
  await send({ kind: 'task', systemId: hall.systemId, key: `test:${id}` });
  expect(await db.upkeep.findFirstOrThrow({ where: { equipmentId: id } })).toMatchObject({ work: 'test' });
  expect((await hand.get(`/farm/equipment/${id}`)).body).toContain('Tested');
});
