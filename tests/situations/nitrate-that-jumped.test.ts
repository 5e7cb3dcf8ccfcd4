import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Finding } from '../../src/alerts/finding.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Nitrate of 10 mg/L for two months, changes of 10 % a week, then 34 and 35 within a day (something died; values invented).
// A repeat that agrees settles that it is the water: alert and pages stand there at once, with one figure.

let bench: Bench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

const at = (n: number, hour = 8) =>
  new Date(Date.parse('2026-09-20T00:00:00Z') + n * 86_400_000 + hour * 3_600_000).toISOString();

async function enter(systemId: string, when: string, text: string) {
  bench.at(when);
  const readings = [{ quantityCode: 'nitrate', text, sure: true }];
  const answer = await manager.send('/api/readings', { systemId, at: when.slice(0, 16), readings });
  expect(answer.status, answer.body).toBe(201);
}

const text = (body: string) => body.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');

test('a confirmed jump of nitrate is where alert, nutrients and demand stand, all with one figure', async () => {
  const systemId = await makeSystem(bench, 'Nitrate jumped');
  const calm = [
    '10',
    '10.4',
    '9.8',
    '10.2',
    '9.7',
    '10.3',
    '10',
    '9.9',
    '10.2',
    '10',
    '10.1',
    '9.8',
    '10',
    '10.3',
  ];
  for (const [i, value] of calm.entries()) {
    await enter(systemId, at(4 * i), value);
    if (i % 2 === 0)
      await bench.service.db.waterChange.create({
        data: {
          id: randomUUID(),
          systemId,
          at: new Date(at(4 * i, 10)),
          volumeL: 100,
          accountId: manager.id,
        },
      });
  }
  await enter(systemId, at(56), '34');
  await enter(systemId, at(56, 11), '35');
  const now = at(56, 12);
  bench.at(now);
  await evaluateSystems(bench.service, [systemId], new Date(now));
  const open = await bench.service.db.alert.findMany({ where: { systemId, clearedAt: null } });
  const found = open.map(({ finding }) => finding as unknown as Finding);
  const level = found.find(({ rule, facet }) => rule === 'nitrate-level' && facet === 'high');
  const [, said] = /^(\d+\.\d) mg\/L/.exec(level?.numbers ?? '') ?? [];
  expect(Number(said)).toBeGreaterThan(31);
  const page = text((await manager.get(`/water/systems/${systemId}/nutrients`)).body);
  expect(page).toContain(`${said} mg/L`);
  const told = await manager.get(`/api/systems/${systemId}/demand`);
  expect(told.body).toContain(`${said} mg/L`);
});
