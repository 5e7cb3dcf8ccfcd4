import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { type Hall, makeHall } from './hall.ts';

let bench: Bench;
let hall: Hall;
let manager: Visitor;
const form = (input: object = {}) => ({
  name: 'Morning round',
  startsAt: '07:30',
  weekdays: ['1', '2', '3'],
  steps: ['feed', 'look'],
  assigneeId: '',
  [`place-${hall.tankId}`]: '1',
  ...input,
});
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

test('a round is planned, changed and paused by the manager', async () => {
  expect((await manager.post('/rounds/plans', form({ assigneeId: manager.id }))).location).toBe(
    '/rounds/plans',
  );
  const [plan] = await bench.service.db.roundPlan.findMany({ include: { tanks: true } });
  expect(plan).toMatchObject({
    startsAt: '07:30',
    weekdays: [1, 2, 3],
    steps: ['look', 'feed'],
    pausedAt: null,
  });
  expect(plan?.tanks.map((tank) => tank.tankId)).toEqual([hall.tankId]);
  expect((await manager.get('/rounds/plans')).body).toContain('Monday, Tuesday, Wednesday');
  const paused = form({ paused: 'yes', version: 1 });
  expect((await manager.post(`/rounds/plans/${plan?.id}`, paused)).status).toBe(303);
  expect((await manager.get('/rounds/plans')).body).toContain('paused');
});

test('an edit on an old form says so, keeps what was typed, and goes through when sent again', async () => {
  await manager.post('/rounds/plans', form({ name: 'Noon round' }));
  const { id } = await bench.service.db.roundPlan.findFirstOrThrow({ where: { name: 'Noon round' } });
  await manager.post(`/rounds/plans/${id}`, form({ name: 'Noon round', startsAt: '12:00', version: 1 }));
  const stale = await manager.post(`/rounds/plans/${id}`, form({ name: 'Midday round', version: 1 }));
  expect(stale.status).toBe(409);
  expect(stale.body).toContain('Somebody changed this round plan');
  expect(stale.body).toContain('value="Midday round"');
  const version = /name="version" value="(\d+)"/.exec(stale.body)?.[1];
  expect((await manager.post(`/rounds/plans/${id}`, form({ name: 'Midday round', version }))).status).toBe(
    303,
  );
});

test('a refused plan comes back as typed with each message beside its field', async () => {
  const answer = await manager.post('/rounds/plans', {
    name: '',
    startsAt: '7 o’clock',
    [`place-${hall.tankId}`]: 'first',
  });
  expect(answer.status).toBe(422);
  for (const words of [
    'Enter a name.',
    'like 07:30',
    'at least one day',
    'at least one step',
    'its place in the walk',
  ]) {
    expect(answer.body).toContain(words);
  }
  expect(answer.body).toContain('value="first"');
});

test('two plans of one name are refused in words', async () => {
  await manager.post('/rounds/plans', form({ name: 'Twice' }));
  const again = await manager.post('/rounds/plans', form({ name: 'Twice' }));
  expect(again.status).toBe(409);
  expect(again.body).toContain('already a round of this name');
});

test('a round without a tank is refused', async () => {
  const answer = await manager.post('/rounds/plans', form({ name: 'Nowhere', [`place-${hall.tankId}`]: '' }));
  expect(answer.body).toContain('Number at least one tank.');
});

test('a bench hand walks rounds but does not plan them', async () => {
  const hand = await bench.as('hand');
  expect((await hand.get('/rounds/plans')).status).toBe(403);
  expect((await hand.post('/rounds/plans', form({ name: 'Mine' }))).status).toBe(403);
});

test('a plan is copied with its chores, and changed for one day alone', async () => {
  await manager.post(
    '/rounds/plans',
    form({ name: 'Night feeding', startsAt: '01:30', chores: 'Lids shut\nLids shut\n' }),
  );
  const { id, chores } = await bench.service.db.roundPlan.findFirstOrThrow({
    where: { name: 'Night feeding' },
  });
  expect(chores).toEqual(['Lids shut']);
  const copy = (await manager.get(`/rounds/plans/new?from=${id}`)).body;
  expect(copy).toContain('value="Night feeding, copy"');
  expect(copy).toContain('Lids shut');

  const day = { day: '2026-11-25', walked: 'yes', startsAt: '', assigneeId: '', note: '' };
  const days = `/rounds/plans/${id}/days`;
  expect((await manager.post(days, day)).body).toContain('Enter what changes on that day');
  expect((await manager.post(days, { ...day, startsAt: '25:00' })).status).toBe(422);
  await manager.post(days, { ...day, walked: 'no', note: 'power is off' });
  expect((await manager.get(`/rounds/plans/${id}`)).body).toMatch(/not walked[\s\S]*power is off/);
  bench.at('2026-11-25T08:00:00Z');
  expect((await manager.get('/rounds')).body).toContain(
    'Not walked today: <strong>Night feeding</strong> (power is off)',
  );
  await manager.post(`${days}/2026-11-25`, {});
  expect((await manager.get('/rounds')).body).not.toContain('power is off');
});
