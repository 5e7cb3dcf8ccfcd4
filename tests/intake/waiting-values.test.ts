import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { addKey } from '../../src/people/keys/keys.ts';
import { withoutMarks } from '../support/figures.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

let bench: Bench;
let manager: Visitor;
let systemId: string;
let kitId: string;
let keyId: string;
let key: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
  const { db } = bench.service;
  const method = await db.method.create({
    data: { quantityCode: 'temperature', name: 'Probe', absolute: 0.05, everyMinutes: 1, isProbe: true },
  });
  const kit = { methodId: method.id, label: 'Hall probe', openedAt: new Date('2026-01-01T00:00:00Z') };
  kitId = (await db.kit.create({ data: kit })).id;
  const { id: siteId } = await db.site.findFirstOrThrow();
  const owner = await bench.as('owner');
  const data = { name: 'Controller', siteId, scopes: ['readings' as const], days: null, perMinute: 6_000 };
  const made = await bench.change((work) => addKey(work, data), owner.id);
  key = made.secret;
  keyId = (await db.accessKey.findFirstOrThrow()).id;
  manager = await bench.as('manager', 'Ines Varga');
});
afterAll(() => bench.close());

const hour = 3600;
const now = benchNow.getTime() / 1000;

async function post(name: string, values: [hoursAgo: number, value: number][], u = 'Cel') {
  const answer = await bench.app.inject({
    method: 'POST',
    url: '/api/v1/senml',
    headers: { authorization: `Bearer ${key}`, 'content-type': 'application/senml+json' },
    payload: JSON.stringify(
      values.map(([hoursAgo, v]) => ({ n: name, u, v, t: Math.round(now - hoursAgo * hour) })),
    ),
  });
  expect(answer.statusCode, answer.body).toBe(200);
  return answer.json() as { taken: number; unknown: string[] };
}

const place = async (name: string, kit = kitId) => {
  const { version } = await bench.service.db.probeName.findUniqueOrThrow({ where: { name } });
  const form = { name, systemId, kitId: kit, version: String(version) };
  const sent = await manager.post('/water/probes', form);
  expect(sent.status, sent.body).toBe(303);
  return words((await manager.get('/water/probes')).body);
};
const words = (html: string) =>
  withoutMarks(html)
    .replace(/<[^>]+>/g, ' ')
    .replace(/\s+/g, ' ');
const kept = () => bench.service.db.reading.findMany({ where: { kitId }, orderBy: { at: 'asc' } });
const waits = (name: string) => bench.service.db.probeWaiting.count({ where: { name } });

describe('values of a name that nobody has placed yet', () => {
  test('wait, are told of, and come in when it is placed, as those of the device that sent them', async () => {
    const told = await post('hall:late', [
      [30, 25.1],
      [20, 25.2],
      [1, 25.3],
    ]);
    expect(told).toMatchObject({ taken: 0, unknown: ['hall:late'] });
    await post('hall:late', [[1, 25.3]]);
    const page = words((await manager.get('/water/probes')).body);
    expect(page).toMatch(/4 values: nobody has said yet what it is/);
    expect(page).toMatch(/3 values of those wait, since .* and are brought in when it is placed/);
    expect(await kept()).toHaveLength(0);
    expect(await place('hall:late')).toMatch(/3 values that waited are brought in, the first from/);
    const rows = await kept();
    expect(rows.map(({ value }) => value)).toEqual([25.1, 25.2, 25.3]);
    expect(rows.every(({ accessKeyId, accountId }) => accessKeyId === keyId && accountId === null)).toBe(
      true,
    );
    expect(await waits('hall:late')).toBe(0);
    expect(words((await manager.get('/water/probes')).body)).not.toContain('values of those wait');
  });

  test('that come again after they were brought in are there already', async () => {
    expect((await post('hall:late', [[20, 25.2]])).taken).toBe(0);
    expect(await kept()).toHaveLength(3);
  });

  test('of more than a week ago, or beyond the newest 2,000, are counted and not kept', async () => {
    await post('hall:many', [
      [8 * 24, 20],
      [6 * 24, 21],
    ]);
    expect(await waits('hall:many')).toBe(1);
    for (const part of [0, 1])
      await post(
        'hall:many',
        Array.from({ length: 1001 }, (_, i) => [(part * 1001 + i + 1) / 60, 24]),
      );
    expect(await waits('hall:many')).toBe(2000);
    const oldest = await bench.service.db.probeWaiting.findFirstOrThrow({
      where: { name: 'hall:many' },
      orderBy: { at: 'asc' },
    });
    expect((benchNow.getTime() - oldest.at.getTime()) / 60_000).toBeCloseTo(2000, 1);
    const { unkept } = await bench.service.db.probeName.findUniqueOrThrow({ where: { name: 'hall:many' } });
    expect(unkept).toBe(2004);
  });

  test('that cannot be of the instrument are told of and refused', async () => {
    const before = (await kept()).length;
    await post('hall:odd', [
      [3, 900],
      [2, 24],
    ]);
    const page = await place('hall:odd');
    expect(page).toMatch(/1 value that waited is brought in/);
    expect(page).toMatch(/1 value that waited cannot be of this instrument, and counts for nothing/);
    expect(await kept()).toHaveLength(before + 1);
  });

  test('in a unit that its instrument does not measure in wait until it is placed on the right one', async () => {
    const { db } = bench.service;
    await post('hall:ph', [[5, 24]]);
    await place('hall:ph');
    await post('hall:ph', [[4, 8.1]], 'pH');
    expect(await waits('hall:ph')).toBe(1);
    const method = await db.method.create({
      data: { quantityCode: 'ph', name: 'pH probe', absolute: 0.05, everyMinutes: 1, isProbe: true },
    });
    const kit = { methodId: method.id, label: 'pH 1', openedAt: new Date('2026-01-01T00:00:00Z') };
    const { id } = await db.kit.create({ data: kit });
    expect(await place('hall:ph', id)).toMatch(/1 value that waited is brought in/);
    expect(await db.reading.findMany({ where: { kitId: id } })).toMatchObject([{ value: 8.1 }]);
  });
});
