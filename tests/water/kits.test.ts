import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { checksVerdict } from '../../src/water/kits/checks.rules.ts';
import { loadKitOpenings } from '../../src/water/kits/openings.ts';
import { listQuantities } from '../../src/water/quantities/quantities.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let hand: Visitor;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'First');
  hand = await bench.as('hand', 'Bea');
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

const methodOf = (quantityCode: string, name: string) =>
  bench.service.db.method.findFirstOrThrow({ where: { quantityCode, name } });

describe('a kit', () => {
  test('is opened, checked against a standard, and taken out of use', async () => {
    const method = await methodOf('alkalinity', 'drop titration');
    const opened = await hand.post('/water/kits', {
      methodId: method.id,
      label: 'KH 7',
      lotNumber: 'L-19',
      openedAt: '2026-11-20T08:00',
      expiresOn: '2026-11-22',
    });
    const url = opened.location ?? '';
    expect(url).toMatch(/^\/water\/kits\/[0-9a-f-]{36}$/);
    expect((await hand.get('/water/kits')).body).toContain('expired');
    for (const value of ['8.0', '7,8', '7.9', '7.8', '7.7', '7.8'])
      expect((await hand.post(`${url}/checks`, { standard: '8.4', value, unit: 'dKH' })).status).toBe(303);
    const { body } = await hand.get(url);
    expect(body).toContain('6 checks: reads low by about 0.6 dKH');
    expect((await hand.post(`${url}/retirement`, {})).location).toBe('/water/kits');
    expect((await hand.post(`${url}/retirement`, {})).status).toBe(409);
    expect((await hand.get('/water/kits')).body).toContain('Out of use');
  });

  test('is corrected: its name, number and day of opening, but for a day after its first use', async () => {
    const method = await methodOf('calcium', 'photometer');
    const { location: url = '' } = await hand.post('/water/kits', {
      ...{ methodId: method.id, label: 'Ca 1', lotNumber: 'X', openedAt: '2026-11-23T08:00' },
    });
    await hand.post(`${url}/checks`, { standard: '400', value: '410', unit: 'mg/L', at: '2026-11-23T09:00' });
    expect((await hand.get(url)).body).toContain(`href="${url}/details"`);
    const typed = {
      label: 'Ca 2',
      lotNumber: 'SN 88',
      openedAt: '2026-11-10T08:00',
      expiresOn: '2027-03-01',
      uses: '',
    };
    const late = await hand.post(`${url}/details`, { ...typed, openedAt: '2026-11-23T18:00', version: '1' });
    expect(late.status).toBe(422);
    expect(late.body).toContain('A test was made with it before that');
    const done = await hand.post(`${url}/details`, { ...typed, version: '1' });
    expect(done.location, done.body).toBe(url);
    const id = url.split('/').at(-1) ?? '';
    const { label, lotNumber, openedAt } = await bench.service.db.kit.findUniqueOrThrow({ where: { id } });
    expect([label, lotNumber, openedAt.toISOString()]).toEqual(['Ca 2', 'SN 88', '2026-11-10T08:00:00.000Z']);
    expect((await hand.post(`${url}/details`, { ...typed, version: '1' })).status).toBe(409);
    const marks = await bench.service.pool.query(`SELECT FROM fact_mark WHERE part = 'kit'`);
    expect(marks.rows.length).toBeGreaterThan(0);
    const line = await bench.service.db.journalLine.findFirst({
      where: { subjectId: id, kind: 'kit.changed' },
    });
    expect(line?.detail).toMatchObject({ before: { label: 'Ca 1' }, after: { label: 'Ca 2' } });
  });

  test('is refused without a method, twice by one name, opened in the future, or with a check that is no number', async () => {
    const method = await methodOf('nitrate', 'photometer');
    expect((await hand.post('/water/kits', { methodId: '', label: 'N 1' })).body).toContain(
      'Choose what the kit measures, and how.',
    );
    const { location = '' } = await hand.post('/water/kits', { methodId: method.id, label: 'N 1' });
    const twice = await hand.post('/water/kits', { methodId: method.id, label: 'N 1' });
    expect(twice.status).toBe(409);
    expect(twice.body).toContain('There is already a kit of this name for this method.');
    expect(
      (await hand.post('/water/kits', { methodId: method.id, label: 'N 2', openedAt: '2027-01-01T00:00' }))
        .status,
    ).toBe(422);
    const check = await hand.post(`${location}/checks`, { standard: 'ten', value: '9', unit: 'mg/L' });
    expect(check.body).toContain('was not understood');
    expect(check.body).toContain('value="9"');
  });

  test('that reads high is taken into account at a level below zero too, as redox has it', async () => {
    const { id: methodId } = await methodOf('orp', 'probe');
    const { location: url = '' } = await manager.post('/water/kits', {
      ...{ methodId, label: 'Redox 3', openedAt: '2026-10-20T08:00' },
    });
    for (const day of [2, 5, 8, 11, 14, 17])
      for (const value of ['270', '274'])
        await manager.post(`${url}/checks`, {
          ...{ standard: '220', value, unit: 'mV', at: `2026-11-${String(day).padStart(2, '0')}T09:00` },
        });
    const systemId = await makeSystem(bench, 'Sand filter');
    const kitId = url.split('/').at(-1) ?? '';
    const readings = [{ quantityCode: 'orp', text: '-50', kitId, sure: true }];
    const answer = await manager.send('/api/readings', { systemId, at: '2026-11-24T07:00', readings });
    expect(answer.status, answer.body).toBe(201);
    const page = await manager.get(`/water/systems/${systemId}?quantity=orp`);
    expect(page.status).toBe(200);
    expect(page.body).toContain('the last −40 mV on 24 Nov');
  });

  test('is judged by all its checks together', async () => {
    const quantity = (await listQuantities(bench.service.db)).find((one) => one.code === 'nitrate');
    if (quantity === undefined) throw new Error('no nitrate');
    const method = { absolute: 0, relative: 0.1, detectionLimit: 0.5 };
    const checks = (...values: number[]) =>
      values.map((value, i) => ({ day: `2026-11-${10 + i}`, standardValue: 10, value }));
    expect(checksVerdict([], method, quantity)).toContain('Not checked yet');
    expect(checksVerdict(checks(10.4, 9.5), method, quantity)).toContain('reads right. Off by');
    expect(checksVerdict(checks(13, 13.2, 12.8, 13.1, 12.9, 13), method, quantity)).toContain(
      'reads high by about 3.0 mg/L as NO₃',
    );
  });
});

test('a reading beyond the scale is a bound: it is no level about a kit’s first use', async () => {
  const { db, pool } = bench.service;
  const systemId = await makeSystem(bench, 'Beyond');
  const { id: methodId } = await methodOf('alkalinity', 'drop titration');
  const kit = await db.kit.create({
    data: { methodId, label: 'Beyond', openedAt: new Date('2026-11-20T08:00:00Z') },
  });
  const test = (day: number, value: number, aboveScale: boolean) =>
    db.reading.create({
      data: {
        ...{
          systemId,
          quantityCode: 'alkalinity',
          methodId,
          kitId: kit.id,
          aboveScale,
          value,
          uncertainty: 0.1,
        },
        ...{ at: new Date(`2026-11-${day}T08:00:00Z`), enteredText: String(value), enteredUnit: 'meq/L' },
      },
    });
  await test(21, 3, false);
  await test(22, 7, true);
  const [water] = (await loadKitOpenings(pool, [kit.id])).get(kit.id) ?? [];
  expect(water?.readings.map(({ value }) => value)).toEqual([3]);
});

describe('what a system keeps', () => {
  test('is set by the manager, each figure with its source, in the farm’s units', async () => {
    const systemId = await makeSystem(bench, 'Targets');
    const url = `/water/systems/${systemId}/targets`;
    expect((await hand.get(url)).status).toBe(403);
    const form = {
      'alkalinity-low': '7.5',
      'alkalinity-high': '9',
      'alkalinity-makeUp': '8,2',
      'alkalinity-source': 'own choice',
      'calcium-low': '400',
      'calcium-source': 'own choice',
    };
    expect((await manager.post(url, form)).status).toBe(303);
    const rows = await bench.service.db.systemQuantity.findMany({
      where: { systemId },
      orderBy: { quantityCode: 'asc' },
    });
    expect(rows.map((row) => row.quantityCode)).toEqual(['alkalinity', 'calcium']);
    expect(rows[0]?.bandLow).toBeCloseTo(7.5 / 2.804, 3);
    expect(rows[0]?.makeUp).toBeCloseTo(8.2 / 2.804, 3);
    expect((await manager.get(url)).body).toContain('value="8.2"');
    await manager.post(url, form);
    expect(
      await bench.service.db.systemQuantity.findMany({
        where: { systemId },
        orderBy: { quantityCode: 'asc' },
      }),
    ).toEqual(rows);
  });

  test('is refused with ends in the wrong order, a limit inside the band, or no source', async () => {
    const systemId = await makeSystem(bench, 'Wrong targets');
    const url = `/water/systems/${systemId}/targets`;
    const answer = await manager.post(url, {
      'alkalinity-low': '9',
      'alkalinity-high': '7',
      'nitrate-high': '10',
      'nitrate-limit': '5',
      'nitrate-source': 'x',
      'calcium-low': '400',
    });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('Alkalinity: the two ends are the wrong way round: 9 is more than 7.');
    expect(answer.body).toContain('Nitrate: the limit must be at least the band&#x27;s upper end, 10.');
    expect(answer.body).toContain('Calcium: say where it comes from');
    expect((await manager.post(url, { 'ph-high': '15' })).body).toContain('from 0 to 14');
  });
});

describe('the farm’s units', () => {
  test('change what is shown and expected, never what is kept', async () => {
    const systemId = await makeSystem(bench, 'Units');
    const reading = await read(bench, systemId, '2026-11-24T07:00Z', 'alkalinity', '8.4');
    expect((await manager.post('/water/units', { alkalinity: 'meq/L', nitrate: 'mg/L N' })).status).toBe(303);
    const { body } = await hand.get(`/water/systems/${systemId}`);
    expect(body).toContain('3.00 <span class="unit">meq/L</span>');
    expect(body).toContain('8.4 dKH');
    expect(await bench.service.db.reading.findUniqueOrThrow({ where: { id: reading.id } })).toMatchObject({
      enteredText: '8.4',
      enteredUnit: 'dKH',
    });
    expect((await manager.post('/water/units', { alkalinity: 'furlong' })).body).toContain(
      'Choose a unit of alkalinity from the list.',
    );
    await manager.post('/water/units', { alkalinity: 'dKH', 'alkalinity-decimals': '1', nitrate: 'mg/L' });
    expect((await listQuantities(bench.service.db)).find((one) => one.code === 'alkalinity')?.decimals).toBe(
      1,
    );
  });
});
