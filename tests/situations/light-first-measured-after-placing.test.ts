import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Ground, layGround, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, startBench } from '../support/service.ts';

// A lot stood for weeks where nobody had measured; the first survey finds more light than its kind bears (ceiling of 150 for
// Platygyra in the care library). Nothing says what it was used to, so there is nothing to raise it to again.

let bench: Bench;
let ground: Ground;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  ground = await layGround(bench);
  const kind = await bench.service.db.kind.findFirstOrThrow({ where: { name: 'Platygyra daedalea' } });
  await turn(bench, ground.lampId, '2026-05-01T00:00:00Z', 60);
  const id = await lot(bench, ground.siteId);
  await bench.service.db.lot.update({ where: { id }, data: { kindId: kind.id } });
  await place(bench, id, [ground.slots.A1], '2026-11-01T10:00Z');
  await survey(bench, ground, '2026-11-20T10:00:00Z', 60, 260);
});
afterAll(() => bench.close());

async function tooBright(at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, [ground.systemId], new Date(at));
  const open = await openAlerts(bench.service.pool, { systemId: ground.systemId });
  return open.find(({ rule, subjectType }) => rule === 'too-much-light' && subjectType === 'lot')?.finding;
}

test('too bright by the first survey ever: what it is used to is not known, and is not said', async () => {
  const found = await tooBright('2026-11-20T12:00:00Z');
  expect(found?.numbers).toBe('gets 260 by the survey of 20 Nov 2026; its light before that is not known');
  expect(found?.firstStep).toContain('Look at it each day for a week, and shade it more where it pales.');
  expect(JSON.stringify(found?.figures)).toContain('its light before was not measured');
  expect(found?.firstStep).not.toContain('raise it again');
  expect(JSON.stringify(found?.figures)).not.toContain('times');
  const manager = await bench.as('manager');
  const { id } = await bench.service.db.lot.findFirstOrThrow();
  const planner = (await manager.get(`/stock/acclimations/new?lots=${id}`)).body;
  expect(planner).toContain('what it is used to is not known');
  expect(planner).not.toContain(', used to');
  const steps = async (more: string) =>
    (await manager.get(`/stock/acclimations/new?lots=${id}&show=yes&${more}`)).body;
  const byLight = await steps('targetPar=120&received=here');
  expect(byLight).toContain('used to is not known yet: its light here was not measured for long enough');
  expect(byLight).toContain('the plan begins at the dimmest step');
  const { id: lamp } = await bench.service.db.lamp.findFirstOrThrow();
  const lamps = async (percent: number) =>
    (await manager.get(`/stock/acclimations/new?lamp=${lamp}&percent=${percent}&show=yes`)).body;
  expect(await lamps(40)).toMatch(/used to is not known: the light now is taken/);
  const { db } = bench.service;
  const { kindId: own } = await db.lot.findUniqueOrThrow({ where: { id } });
  const { id: kindId } = await db.kind.findFirstOrThrow({ where: { name: 'Acropora tenuis' } });
  await db.lot.update({ where: { id }, data: { kindId } });
  const up = await lamps(66);
  expect(up).toMatch(/used to is not known: the steps begin as for the dim end of the kind/);
  await db.lot.update({ where: { id }, data: { kindId: own } });
});

test('a plan of moves compares with the light measured so far, and does not call it what the lot is used to', async () => {
  bench.at('2026-11-20T12:00:00Z');
  const { code } = await bench.service.db.lot.findFirstOrThrow();
  const manager = await bench.as('manager');
  const plan = await manager.get(`/moves/new?which=codes&codes=${code}&use=${ground.rackId}`);
  const body = plan.body.replace(/\s+/g, ' ');
  expect(body).toContain('No free slot on these racks suits it');
  expect(body).toContain('the daily light measured for it so far (what it is used to is not known yet)');
  expect(body).not.toContain('light it is used to');
});

test('two days in one light and then a brighter one: neither is what it is used to', async () => {
  const other = await layGround(bench);
  await turn(bench, other.lampId, '2026-05-01T00:00:00Z', 60);
  await survey(bench, other, '2026-11-18T09:00:00Z', 60, { A1: 60, A2: 130 });
  const kind = await bench.service.db.kind.findFirstOrThrow({ where: { name: 'Platygyra daedalea' } });
  const young = await lot(bench, other.siteId);
  await bench.service.db.lot.update({ where: { id: young }, data: { kindId: kind.id } });
  await place(bench, young, [other.slots.A1], '2026-11-18T10:00Z', '2026-11-20T10:00Z');
  await place(bench, young, [other.slots.A2], '2026-11-20T10:00Z');
  const told = async (at: string) => {
    bench.at(at);
    await evaluateSystems(bench.service, [other.systemId], new Date(at));
    const open = await openAlerts(bench.service.pool, { systemId: other.systemId });
    return open.find(({ rule }) => rule === 'too-much-light')?.finding;
  };
  const found = await told('2026-11-20T12:00:00Z');
  expect(found?.title).toContain('much brighter than before');
  expect(found?.numbers).toContain('before that 60, for too short a time to be used to it');
  expect(JSON.stringify(found)).not.toMatch(/"used to \d|times what it is used to/);
  const { code } = await bench.service.db.lot.findUniqueOrThrow({ where: { id: young } });
  const page = (await (await bench.as('manager')).get(`/stock/${code}`)).body;
  expect(page).toContain('what it is used to is not known yet');
});

test('once it has stood there for as long as it takes to get used to it, that is known', async () => {
  const found = await tooBright('2027-03-20T12:00:00Z');
  expect(found?.numbers).toMatch(/^used to 260, gets 260/);
});
