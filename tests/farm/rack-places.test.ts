import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { numberedNames } from '../../src/farm/racks/names.rules.ts';
import { placeConcerns } from '../../src/farm/tanks/rack-places.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

describe('the names of racks by number', () => {
  test.each([
    ['R1', 3, ['R1', 'R2', 'R3']],
    ['A 09', 3, ['A 09', 'A 10', 'A 11']],
    ['Hall 2 rack 4', 2, ['Hall 2 rack 4', 'Hall 2 rack 5']],
    ['Window rack', 1, ['Window rack']],
    ['Window rack', 2, null],
  ])('%s, %d of them', (first, count, names) => expect(numberedNames(first, count)).toEqual(names));
});

describe('where a rack lies', () => {
  const tank = { name: 'Tank 1', lengthMm: 2000, widthMm: 700, heightMm: 400 };
  const rack = {
    rows: 10,
    columns: 16,
    depthMm: 150,
    leftMm: 0,
    backMm: 0,
    slotWidthMm: 50,
    slotDepthMm: 50,
  };
  const beside = { ...rack, name: 'R2', leftMm: 800 };
  test.each([
    ['within its tank, beside another', rack, [beside], 0],
    ['a row too far to the front', { ...rack, backMm: 250 }, [], 1],
    ['too wide wherever it lies', { ...rack, columns: 41, leftMm: null, backMm: null }, [], 1],
    ['deeper than the tank is high', { ...rack, depthMm: 450 }, [], 1],
    ['on another at nearly its depth', { ...rack, leftMm: 100, depthMm: 180 }, [beside], 1],
    ['above another', { ...rack, leftMm: 100, depthMm: 60 }, [beside], 0],
    ['nobody knows where', { ...rack, leftMm: null, backMm: null }, [beside], 0],
    ['with slots of no known size', { ...rack, slotWidthMm: null, slotDepthMm: null }, [beside], 0],
  ])('%s', (_, one, others, concerns) => expect(placeConcerns(one, tank, others)).toHaveLength(concerns));
});

describe('racks through their pages', () => {
  let bench: Bench;
  let manager: Visitor;
  let tankId: string;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    const { db } = bench.service;
    const site = await db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
    const system = await db.system.create({ data: { siteId: site.id, name: 'Shallow', volumeL: 1800 } });
    const size = { lengthMm: 2400, widthMm: 700, heightMm: 380 };
    tankId = (await db.tank.create({ data: { systemId: system.id, name: 'Tank 1', ...size } })).id;
    manager = await bench.as('manager');
  });
  afterAll(() => bench.close());

  const shape = { rows: '10', columns: '16', depthMm: '15', base: 'egg_crate', lampId: '' };
  const add = (form: Record<string, string>) =>
    manager.post(`/farm/tanks/${tankId}/racks`, { ...shape, ...form });

  test('are added eighteen at a time, by number, each with its slots', async () => {
    const { status, body, location = '' } = await add({ name: 'R1', count: '18' });
    expect(status, body).toBe(303);
    expect((await manager.get(location)).body).toContain('18 racks are added with their slots, R1 to R18.');
    const racks = await bench.service.db.rack.findMany({
      orderBy: { position: 'asc' },
      include: { _count: { select: { slots: true } } },
    });
    expect(racks.map(({ name }) => name)).toEqual(Array.from({ length: 18 }, (_, i) => `R${i + 1}`));
    expect(new Set(racks.map(({ _count }) => _count.slots))).toEqual(new Set([160]));
  });

  test.each([
    ['a name without a number', { name: 'Window', count: '3' }, 'End the name with the number'],
    ['names that are there', { name: 'R17', count: '3' }, 'is in this tank already'],
    ['one place for all', { name: 'S1', count: '3', leftMm: '0', backMm: '0' }, 'would lie on each other'],
    ['more than sixty', { name: 'S1', count: '61' }, 'how many racks'],
  ])('are refused with %s', async (_, form, words) => {
    const { status, body } = await add(form);
    expect(status).toBe(422);
    expect(body).toContain(words);
  });

  test('that stick out of the tank or lie on another are asked about, once', async () => {
    const place = { slotWidthMm: '5', slotDepthMm: '5', leftMm: '0', backMm: '0' };
    expect((await add({ name: 'P1', ...place })).status).toBe(303);
    const out = await add({ name: 'P2', ...place, leftMm: '170' });
    expect(out.status).toBe(422);
    expect(out.body).toContain('It ends 250 cm from the left, and Tank 1 is 240 cm long.');
    const over = await add({ name: 'P2', ...place, leftMm: '70' });
    expect(over.body).toContain('It overlaps P1 by 10 cm × 50 cm, at nearly the same depth.');
    expect(over.body).toContain('It is correct');
    const kept = await add({ name: 'P2', ...place, leftMm: '70', sure: 'yes' });
    expect(kept.status, kept.body).toBe(303);
    const { id, version } = await bench.service.db.rack.findFirstOrThrow({ where: { name: 'P2' } });
    const renamed = { ...shape, ...place, leftMm: '70', name: 'P2 left', tankId, version: String(version) };
    expect((await manager.post(`/farm/racks/${id}`, renamed)).status).toBe(303);
    const wider = { ...renamed, columns: '30', version: String(version + 1) };
    expect((await manager.post(`/farm/racks/${id}`, wider)).body).not.toContain('It overlaps P1 by 10 cm');
  });

  test('that a smaller tank no longer holds are asked about, as those copied into one are', async () => {
    const { db } = bench.service;
    const tank = { name: 'Tank 1', widthMm: '70', heightMm: '38', quarantine: '', ownWater: '', note: '' };
    const smaller = { ...tank, lengthMm: '60', version: '1' };
    const asked = await manager.post(`/farm/tanks/${tankId}`, smaller);
    expect(asked.status).toBe(422);
    expect(asked.body).toContain('P1: It ends 80 cm from the left, and Tank 1 is 60 cm long.');
    expect((await manager.post(`/farm/tanks/${tankId}`, { ...smaller, lengthMm: '230' })).status).toBe(303);
    const sure = { ...smaller, version: '2', sure: 'yes' };
    expect((await manager.post(`/farm/tanks/${tankId}`, sure)).status).toBe(303);
    const noted = { ...smaller, version: '3', note: 'Drained' };
    expect((await manager.post(`/farm/tanks/${tankId}`, noted)).status).toBe(303);

    const { systemId } = await db.tank.findUniqueOrThrow({ where: { id: tankId } });
    const small = { systemId, name: 'Small', lengthMm: 500, widthMm: 600, heightMm: 380 };
    const { id } = await db.tank.create({ data: small });
    const rack = await db.rack.findFirstOrThrow({ where: { name: 'P1' } });
    const copies = { names: 'S1', tankId: id };
    const to = `/farm/racks/${rack.id}/copies`;
    const stuck = await manager.post(to, copies);
    expect(stuck.status).toBe(422);
    expect(stuck.body).toContain('It ends 80 cm from the left, and Small is 50 cm long.');
    expect((await manager.post(to, { ...copies, sure: 'yes' })).status).toBe(303);
  });
});
