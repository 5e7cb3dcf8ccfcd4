import { afterAll, beforeAll, expect, test } from 'vitest';
import { slotLightAt } from '../../src/farm/light/slot-light.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { type Ground, layGround, survey } from './ground.ts';

// The rack was surveyed before its lamps were entered: what they were set to until then nobody said.
let bench: Bench;
let owner: Visitor;
let ground: Ground;
const daysAgo = (days: number) => new Date(benchNow.getTime() - days * 86_400_000);

beforeAll(async () => {
  bench = await startBench({ watching: false });
  owner = await bench.as('owner');
  ground = await layGround(bench);
  const { db } = bench.service;
  await db.rack.update({ where: { id: ground.rackId }, data: { lampId: null, createdAt: daysAgo(90) } });
  await db.lamp.delete({ where: { id: ground.lampId } });
  await survey(bench, ground, daysAgo(80).toISOString(), 60, 110);
});
afterAll(() => bench.close());

const lightAgo = async (days: number) => {
  const slotId = ground.slots.A1 as string;
  return (await slotLightAt(bench.service.pool, [slotId], daysAgo(days))).get(slotId);
};
const enter = (name: string, since: string) =>
  owner.post(`/farm/tanks/${ground.tankId}/lamps`, {
    ...{ name, percent: '60', litHours: '10', rampHours: '1', racks: ground.rackId, since },
  });

test('lamps dated back give the daily light since then, and nothing is made up for the time before', async () => {
  expect((await enter('Bars', daysAgo(30).toISOString().slice(0, 16))).status).toBe(303);
  // 110 umol/(m2 s) over 10 h with two ramps of 1 h: 9 h of full light, 110 x 9 x 3600 / 1e6 = 3.564 mol/(m2 d).
  expect((await lightAgo(0))?.dli).toBeCloseTo(3.564, 9);
  expect((await lightAgo(20))?.dli).toBeCloseTo(3.564, 9);
  expect(await lightAgo(90)).toBeUndefined();
});

test('a time that is still to come is refused', async () => {
  const answer = await enter('More bars', '2099-01-01T08:00');
  expect(answer.status).toBe(422);
  expect(answer.body).toContain('That is in the future.');
});
