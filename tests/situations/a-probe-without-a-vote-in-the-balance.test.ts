import { afterAll, beforeAll, expect, test } from 'vitest';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { addDose } from '../../src/water/log/doses.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// A photometric probe that is read off by hand and is past the day of its calibration: what it shows counts for nothing, in
// the balance of what the stock uses as in any level. Values invented: 8.3 dKH by titration, held by 0.5 dKH of doses a day,
// and a probe that shows 0.4 dKH less each day.

let bench: Bench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

const day = (n: number, hour = 8) =>
  new Date(Date.parse('2026-11-01T00:00:00Z') + n * 86_400_000 + hour * 3_600_000).toISOString();

async function enter(
  systemId: string,
  at: string,
  code: string,
  text: string,
  methodId: string,
  kitId?: string,
) {
  bench.at(at);
  const reading = {
    quantityCode: code,
    text,
    sure: true,
    methodId,
    ...(kitId === undefined ? {} : { kitId }),
  };
  const answer = await manager.send('/api/readings', { systemId, at: at.slice(0, 16), readings: [reading] });
  expect(answer.status, answer.body).toBe(201);
}

interface Told {
  quantities: { quantityCode: string; rate: { perDay: number } | null }[];
}

async function useAday(systemId: string): Promise<number | null> {
  const told = (await manager.get(`/api/systems/${systemId}/demand`)).json() as Told;
  return told.quantities.find(({ quantityCode }) => quantityCode === 'alkalinity')?.rate?.perDay ?? null;
}

test('a probe read off by hand that has no vote says nothing of what the stock uses, nor that the water is tested', async () => {
  const { db } = bench.service;
  const systemId = await makeSystem(bench, 'Without a vote');
  const drops = await db.method.findFirstOrThrow({
    where: { quantityCode: 'alkalinity', name: 'drop titration' },
  });
  const method = await db.method.create({
    data: { quantityCode: 'alkalinity', name: 'read-off probe', absolute: 0.02, isProbe: true },
  });
  const kit = await db.kit.create({
    data: {
      methodId: method.id,
      label: 'Read-off probe',
      openedAt: new Date('2026-06-01'),
      expiresOn: new Date('2026-10-30'),
    },
  });
  for (let n = 0; n < 12; n += 1) {
    await enter(systemId, day(n), 'alkalinity', '8.3', drops.id);
    await enter(systemId, day(n, 9), 'alkalinity', (8.3 - 0.4 * n).toFixed(1), method.id, kit.id);
    await bench.change((work) =>
      addDose(work, systemId, {
        ...{ substance: 'sodium bicarbonate', amount: 15, unit: 'g', quantityCode: '', rise: null, note: '' },
        at: new Date(day(n, 10)),
      }),
    );
  }
  const now = day(11, 12);
  bench.at(now);
  await evaluateSystems(bench.service, [systemId], new Date(now));
  // 15 g in 1,000 L are 0.179 meq/L (3.00 g a dKH in 100 L, molar masses IUPAC 2021), and the level stays.
  expect(await useAday(systemId)).toBeCloseTo(-0.179, 2);

  // Weeks later the probe is silent and nobody has tested: it is no test of the water, and still has no vote.
  for (const n of [24, 25]) await enter(systemId, day(n), 'alkalinity', '3.9', method.id, kit.id);
  const later = day(25, 12);
  bench.at(later);
  await evaluateSystems(bench.service, [systemId], new Date(later));
  expect(await useAday(systemId)).toBeCloseTo(-0.179, 2);
  const silent = day(37, 12);
  bench.at(silent);
  await evaluateSystems(bench.service, [systemId], new Date(silent));
  const alerts = await db.alert.findMany({ where: { systemId, clearedAt: null } });
  expect(alerts.map(({ rule, facet }) => `${rule} ${facet}`)).not.toContain('alkalinity-falling ');
  expect(alerts.map(({ rule }) => rule)).not.toContain('demand-changed');
  const page = (await manager.get(`/water/systems/${systemId}?quantity=alkalinity`)).body;
  expect(page.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ')).toMatch(/Last reading 8\.3/);
});
