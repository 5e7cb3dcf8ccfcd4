import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { reportCounts } from '../../src/intake/probes/probes.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// A home-made pH sensor in a running tank, a value a second (electronics forum): steady in buffer, wild in the tank.
const series = [6.2, 8.6, 14.4, 7.3, 7.3, 3.4, 8.6, 16.4, 6.7, 5.4, 2.1, 7.7, 8.1, 9.9];
const start = Date.parse('2026-11-24T07:00:00Z') / 1000;
const name = 'urn:dev:mac:0024befffe804ff1/ph';
const pack = [
  { bn: 'urn:dev:mac:0024befffe804ff1/', bt: start, bu: 'pH' },
  ...series.map((v, t) => ({ n: 'ph', t, v })),
];

let bench: Bench;
let manager: Visitor;
let systemId: string;
let kitId: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
  manager = await bench.as('manager');
  const { db } = bench.service;
  const method = await db.method.create({
    data: { quantityCode: 'ph', name: 'probe in the sump', absolute: 0.05, everyMinutes: 1 },
  });
  const openedAt = new Date('2026-11-01T00:00:00Z');
  kitId = (await db.kit.create({ data: { methodId: method.id, label: 'pH probe 1', openedAt } })).id;
});
afterAll(() => bench.close());

const post = (body: object, headers = {}) => manager.send('/api/senml', body, headers);

describe('a probe that reports by itself', () => {
  test('is not kept before somebody has said what its name stands for', async () => {
    const { status, json } = await post(pack);
    expect(status).toBe(200);
    expect(json()).toEqual({ taken: 0, present: 0, rejected: [], unknown: [name] });
    expect((await manager.get('/water/probes')).body).toContain(name);
    const placed = await manager.post('/water/probes', { name, systemId, kitId, version: 1 });
    expect(placed.status, placed.body).toBe(303);
    expect((await manager.post('/water/probes', { name, systemId, kitId, version: 1 })).status).toBe(409);
  });

  test('has values that cannot be rejected by name and reason, and the others kept as they are, those that waited for it to be placed', async () => {
    const told = (await post(pack)).json() as { taken: number; present: number; rejected: object[] };
    expect(told).toMatchObject({ taken: 0, present: 12 });
    expect(told.rejected).toEqual([
      { name, at: '2026-11-24T07:00:02.000Z', value: 14.4, reason: expect.stringContaining('cannot be') },
      { name, at: '2026-11-24T07:00:07.000Z', value: 16.4, reason: expect.stringContaining('cannot be') },
    ]);
    const kept = await bench.service.db.reading.findMany({ where: { kitId }, orderBy: { at: 'asc' } });
    expect(kept.map((reading) => reading.value)).toEqual(series.filter((value) => value <= 14));
    expect(kept.map((reading) => reading.trust)).toEqual(Array(12).fill('plain'));
  });

  test('has its rejections counted, so that the rate can be told: 2 of 14, sent twice', async () => {
    const [count] = await reportCounts(bench.service.pool, new Date('2026-11-23T00:00:00Z'));
    expect(count).toEqual({ name, kitId, taken: 12, rejected: 4, refused: '16.4' });
    expect((await manager.get('/water/probes')).body).toContain(
      '4 (25 %) that cannot be, in 7 days, last 16.4',
    );
  });

  test('may send a pack twice, at once or later: one value an instrument and time', async () => {
    const more = [{ bn: name, bt: start + 600, bu: 'pH', v: 8.1 }];
    const answers = await Promise.all([post(more), post(more)]);
    const counts = answers.map((answer) => answer.json() as { taken: number; present: number });
    expect(counts.map(({ taken }) => taken).sort()).toEqual([0, 1]);
    expect(counts.map(({ present }) => present).sort()).toEqual([0, 1]);
    expect((await post([{ bn: name, bt: start + 600, bu: 'pH', v: 8.2 }])).json()).toMatchObject({
      taken: 0,
      present: 1,
    });
  });

  test('whose clock runs ahead, or whose unit is another’s, is told so and not counted as impossible', async () => {
    const told = (
      await post([
        { bn: name, bt: start + 86_400 * 3, bu: 'pH', v: 8.1 },
        { t: -86_400 * 3 - 60, u: 'Cel', v: 25 },
      ])
    ).json() as { rejected: { reason: string }[] };
    expect(told.rejected.map(({ reason }) => reason)).toEqual([
      'lies in the future',
      '"Cel" is not a unit of pH',
    ]);
  });

  test('that nobody has placed, or whose unit is another’s, is told of where things are missing, and cannot be placed wrongly', async () => {
    const own = 'hall:temp';
    const packOf = (t: number, u: string) => post([{ bn: own, bt: start + t, bu: u, v: 25.4 }]);
    await packOf(0, 'Cel');
    expect((await packOf(60, 'Cel')).json()).toMatchObject({ taken: 0, unknown: [own] });
    expect((await manager.get('/water/probes')).body).toMatch(/2 values: nobody has said yet what it is/);
    expect((await manager.get('/')).body).toMatch(/Values of [^<]*hall:temp[^<]* wait and count for nothing/);
    const place = async (kit: string) => {
      const { version } = await bench.service.db.probeName.findUniqueOrThrow({ where: { name: own } });
      return manager.post('/water/probes', { name: own, systemId, kitId: kit, version });
    };
    const wrong = await place(kitId);
    expect(wrong.status).toBe(422);
    expect(wrong.body).toContain('reports in “Cel”, and that is not a unit of pH');
    const method = await bench.service.db.method.findFirstOrThrow({ where: { quantityCode: 'temperature' } });
    const thermometer = await bench.service.db.kit.create({
      data: { methodId: method.id, label: 'Hall thermometer', openedAt: new Date('2026-11-01') },
    });
    expect((await place(thermometer.id)).status).toBe(303);
    expect((await packOf(120, 'Cel')).json()).toMatchObject({ taken: 1 });
    expect((await manager.get('/')).body).not.toMatch(/Values of [^<]*hall:temp/);
    await packOf(180, 'pH');
    expect((await manager.get('/water/probes')).body).toMatch(
      /1 value: &quot;pH&quot; is not a unit of temperature; place it again/,
    );
  });

  test('signs with an access key and needs nothing else, though it can do nothing else either', async () => {
    const owner = await bench.as('owner');
    const page = await owner.post('/people/keys', { name: 'Controller' });
    const key = /<code class="key-text">(\S+)<\/code>/.exec(page.body)?.[1] ?? '';
    const ask = (url: string) =>
      bench.app.inject({
        method: 'POST',
        url,
        headers: { authorization: `Bearer ${key}` },
        payload: [{ bn: name, bt: start + 1200, bu: 'pH', v: 8.11 }],
      });
    expect((await ask('/api/senml')).json()).toMatchObject({ taken: 1 });
    const kept = await bench.service.db.reading.findFirst({ where: { value: 8.11 } });
    expect(kept).toMatchObject({ accountId: null, accessKeyId: expect.any(String) });
    expect((await ask('/water/probes')).statusCode).toBe(403);
  });

  test('sends the media type of SenML as well, and gets problem details for what is no pack', async () => {
    const senml = { 'content-type': 'application/senml+json' };
    const text = JSON.stringify([{ bn: name, bt: start + 900, bu: 'pH', v: 8.05 }]);
    expect((await post(text as unknown as object, senml)).json()).toMatchObject({ taken: 1 });
    const refused = await post({ not: 'a list' });
    expect(refused.status).toBe(422);
    expect(refused.headers['content-type']).toContain('application/problem+json');
    expect(refused.json()).toMatchObject({ detail: expect.stringContaining('RFC 8428') });
  });
});
