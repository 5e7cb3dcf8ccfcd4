import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { withoutMarks } from '../support/figures.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let hand: Visitor;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'Long run');
  hand = await bench.as('hand');
  manager = await bench.as('owner');
});
afterAll(() => bench.close());

describe('the list of systems', () => {
  test('shows an untested system as such', async () => {
    const page = await hand.get('/water');
    expect(page.status).toBe(200);
    expect(page.body).toContain('not tested yet');
  });

  test('shows last values with age, the line of history and what the water asks for', async () => {
    const systemId = await makeSystem(bench, 'Shallow <b>');
    for (const day of [18, 19, 20, 21, 22, 23])
      await read(bench, systemId, `2026-11-${day}T08:00Z`, 'alkalinity', day % 2 ? '8.3' : '8.4');
    await read(bench, systemId, '2026-11-24T07:00Z', 'nitrate', '<1');
    const alert = {
      rule: 'x',
      subjectType: 'system',
      subjectId: systemId,
      systemId,
      severity: 'today' as const,
      title: 'Nitrate creeps',
      finding: {},
      worst: 1,
      openedAt: new Date('2026-11-24T06:00Z'),
      evaluatedAt: new Date('2026-11-24T06:00Z'),
    };
    await bench.service.db.alert.create({ data: alert });
    const { body } = await hand.get('/water?show=words');
    expect(body).toContain('Shallow &lt;b&gt;');
    expect(withoutMarks(body)).toMatch(/8\.3<\/span> <span class="unit fig">±0\.2/);
    expect(body).toContain('swung 0.1 in 7 d, steady');
    expect(withoutMarks(body)).toContain('&lt; 1.0</span>');
    expect(body).toContain('Nitrate creeps');
    expect(body).toContain('1 has alerts for today');
    expect(body).toContain('<svg class="chart spark"');
  });

  test('the wall says where a probe is not trusted, instead of calling the water untested', async () => {
    const systemId = await makeSystem(bench, 'Probed');
    const { db } = bench.service;
    const method = await db.method.findFirstOrThrow({ where: { quantityCode: 'temperature' } });
    const since = new Date('2026-11-24T05:00Z');
    const doubt = {
      systemId,
      quantityCode: 'temperature',
      methodId: method.id,
      label: 'Probe',
      since,
      words: 'is flat',
    };
    await db.probeDoubt.create({ data: doubt });
    const { body: wall } = await hand.get('/water');
    expect(wall).toContain('class="wall"');
    expect(wall).toContain('probe not trusted since');
    expect(wall).toContain('not tested yet');
  });

  test('has twelve systems on a page, counts them all, and finds each by its name', async () => {
    for (let n = 10; n < 24; n += 1) await makeSystem(bench, `Row ${n}`);
    const all = await bench.service.db.system.count();
    const pages = [(await hand.get('/water')).body, (await hand.get('/water?page=2')).body];
    for (const body of pages) expect(body).toContain(`The last tests of ${all} systems`);
    const named = (body: string) =>
      [...body.matchAll(/<th scope="row"><a [^>]*>([^<]*)</g)].map(([, name]) => name);
    expect(named(pages[0] ?? '')).toHaveLength(12);
    expect(named(pages.join('')).toSorted()).toContain('Row 23');
    expect(new Set(named(pages.join(''))).size).toBe(all);
    expect(pages[0]).toContain(`1 to 12 of ${all}`);
    for (const show of ['charts', 'words'])
      expect(named((await hand.get(`/water?q=ROW+1&show=${show}`)).body)).toEqual(
        Array.from({ length: 10 }, (_, n) => `Row ${n + 10}`),
      );
    expect((await hand.get('/water?q=nowhere')).body).toContain('0 systems found');
  });

  test('says of a young water that its band alone is watched, until sixty days of readings are known', async () => {
    const systemId = await makeSystem(bench, 'Young');
    await read(bench, systemId, '2026-11-20T08:00Z', 'alkalinity', '8.3');
    const page = `/water/systems/${systemId}?quantity=alkalinity`;
    expect((await hand.get(page)).body).toMatch(/Watched by[\s\S]*its band alone[\s\S]*known from 60 days/);
    await read(bench, systemId, '2026-09-20T08:00Z', 'alkalinity', '8.2');
    expect((await hand.get(page)).body).not.toContain('its band alone');
  });
});

describe('every page of the water', () => {
  test('answers, with nothing entered and with something', async () => {
    const systemId = await makeSystem(bench, 'All pages');
    const paths = [
      '',
      '/readings/new',
      '/repeats',
      '/bench-order',
      '/water-changes',
      '/doses',
      '/feedings',
      '/targets',
      '/readings.csv',
    ];
    const addresses = [
      ...paths.map((path) => `/water/systems/${systemId}${path}`),
      '/water/kits',
      '/water/units',
      '/water/hydrometer',
      '/water/hydrometer?gravity=1,0234&base=SG+25/4&sample=25&degrees=C',
      '/water/methods/new',
      '/people/keys',
    ];
    for (const address of addresses)
      expect(`${address} ${(await manager.get(address)).status}`).toBe(`${address} 200`);
    const reading = await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '6.9');
    addresses.push(`/water/readings/${reading.id}`, `/water/readings/${reading.id}/voiding`);
    for (const address of addresses)
      expect(`${address} ${(await manager.get(address)).status}`).toBe(`${address} 200`);
  });
});
