import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { slotLightAt } from '../../src/farm/light/slot-light.ts';
import { editRack, findRack } from '../../src/farm/racks/racks.ts';
import { lotExposures } from '../../src/stock/light/exposure.ts';
import { lotsOnRack } from '../../src/stock/places/occupants.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { type Ground, layGround, lot, place, survey, turn } from './ground.ts';

// 10 cm deeper at 1.5 per metre leaves exp(-0.15) = 0.861 of the light (Beer-Lambert; the coefficient is our own choice).
const LEFT = Math.exp(-0.15);

describe('a rack that is hung otherwise', () => {
  let bench: Bench;
  let owner: Visitor;
  let ground: Ground;
  let lotId: string;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    owner = await bench.as('owner');
    ground = await layGround(bench);
    await turn(bench, ground.lampId, '2026-01-01T00:00:00Z', 50, { litHours: 10, rampHours: 0 });
    await survey(bench, ground, '2026-03-01T00:00:00Z', 50, 100);
    lotId = await lot(bench, ground.siteId);
    await place(bench, lotId, [ground.slots.A1], '2026-04-01T00:00:00Z');
  });
  afterAll(() => bench.close());

  const a1 = () => ground.slots.A1 as string;
  const lightAt = async (at: string) =>
    (await slotLightAt(bench.service.pool, [a1()], new Date(at))).get(a1());
  const viewed = async () => {
    const { rows } = await bench.service.pool.query(
      'SELECT par, error, estimated FROM slot_light_now WHERE slot_id = $1',
      [a1()],
    );
    return rows[0] as { par: number; error: number; estimated: boolean };
  };
  const rehang = async (change: object) => {
    const rack = await findRack(bench.service.db, ground.rackId);
    const { id, createdAt, position, tank, system, lamp, ...now } = rack;
    return bench.change((work) =>
      editRack(work, ground.rackId, { ...now, sure: true, always: false, ...change }, lotsOnRack),
    );
  };

  test('deeper it gets the light that the water leaves, as an estimate, while its past keeps its own', async () => {
    bench.at(new Date('2026-05-01T00:00:00Z'));
    await rehang({ depthMm: 400 });
    const after = await lightAt('2026-05-02T00:00:00Z');
    expect(after?.par).toBeCloseTo(100 * LEFT, 9);
    expect(after?.estimated).toBe(true);
    // Half of the change is doubted, on top of the survey's own error.
    expect(after?.error).toBeCloseTo(Math.hypot(10 * LEFT, 100 * LEFT * 0.5 * (1 - LEFT)), 9);
    expect(await lightAt('2026-04-15T00:00:00Z')).toMatchObject({ par: 100, estimated: false });
    const exposures = await lotExposures(
      bench.service.pool,
      { lotIds: [lotId] },
      new Date('2026-05-02T00:00:00Z'),
    );
    const pieces = exposures.get(lotId) ?? [];
    expect(pieces.map((piece) => [piece.from.toISOString().slice(0, 10), Math.round(piece.par)])).toEqual([
      ['2026-04-01', 100],
      ['2026-05-01', 86],
    ]);
  });

  test('the shared view says the same, and the rack page says why', async () => {
    const [view, light] = [await viewed(), await lightAt('2026-05-02T00:00:00Z')];
    expect(view.par).toBeCloseTo(light?.par ?? 0, 9);
    expect(view.error).toBeCloseTo(light?.error ?? 0, 9);
    expect(view.estimated).toBe(true);
    const page = await owner.get(`/racks/${ground.rackId}`);
    expect(page.body).toContain('10 cm deeper (worked out with 1.5 per metre of water)');
    expect(page.body).toContain('≈86');
    expect((await owner.get('/racks')).body).toContain('moved since');
  });

  test('hung back where it was, the survey holds again', async () => {
    bench.at(new Date('2026-05-10T00:00:00Z'));
    await rehang({ depthMm: 300 });
    expect(await lightAt('2026-05-11T00:00:00Z')).toMatchObject({ par: 100, estimated: false });
    expect(await viewed()).toMatchObject({ par: 100, estimated: false });
    expect((await lightAt('2026-05-05T00:00:00Z'))?.par).toBeCloseTo(100 * LEFT, 9);
  });

  test('under other lamps the setting says nothing of the light: it stays as surveyed and is doubted', async () => {
    const other = await bench.service.db.lamp.create({
      data: { tankId: ground.tankId, name: 'Spots', litHours: 8, rampHours: 0 },
    });
    await turn(bench, other.id, '2026-01-01T00:00:00Z', 100, { litHours: 8, rampHours: 0 });
    bench.at(new Date('2026-06-01T00:00:00Z'));
    await rehang({ lampId: other.id });
    const light = await lightAt('2026-06-02T00:00:00Z');
    expect(light).toMatchObject({ par: 100, estimated: true });
    expect(light?.error).toBeCloseTo(Math.hypot(10, 30), 9);
    // 100 umol/(m2 s) over 8 h are 2.88 mol/(m2 d) (arithmetic); over the 10 h of the lamps before, 3.6.
    expect(light?.dli).toBeCloseTo(2.88, 9);
    expect((await lightAt('2026-05-20T00:00:00Z'))?.dli).toBeCloseTo(3.6, 9);
    const view = await viewed();
    expect(view.par).toBe(light?.par);
    expect(view.error).toBeCloseTo(light?.error ?? 0, 9);
  });

  test('measured again, it is known again', async () => {
    await survey(bench, ground, '2026-06-10T00:00:00Z', 100, 140);
    expect(await lightAt('2026-06-11T00:00:00Z')).toMatchObject({ par: 140, estimated: false });
    expect(await viewed()).toMatchObject({ par: 140, estimated: false });
    expect((await lightAt('2026-04-15T00:00:00Z'))?.par).toBe(100);
  });

  test('hung wrong on paper alone, it is corrected since then: the light of that time too, and the journal says so', async () => {
    bench.at(new Date('2026-06-12T00:00:00Z'));
    await rehang({ depthMm: 400 });
    expect((await lightAt('2026-06-13T00:00:00Z'))?.par).toBeCloseTo(140 * LEFT, 9);
    bench.at(new Date('2026-06-14T00:00:00Z'));
    await rehang({ depthMm: 300, always: true });
    expect((await lightAt('2026-06-13T00:00:00Z'))?.par).toBeCloseTo(140, 9);
    const lines = await bench.service.db.journalLine.findMany({
      where: { subjectId: ground.rackId },
      orderBy: { id: 'asc' },
    });
    expect(lines.at(-1)?.detail).toMatchObject({
      before: { depthMm: 400 },
      after: { depthMm: 300 },
      enteredWrong: true,
    });
    expect((await owner.get(`/farm/racks/${ground.rackId}`)).body).toContain('it was always like this');
  });

  test('a sloping rack is deeper towards the front', async () => {
    bench.at(new Date('2026-06-20T00:00:00Z'));
    await rehang({ slopeDeg: 30, slotWidthMm: 100, slotDepthMm: 100 });
    // Two rows of 100 mm at 30 degrees: row A 25 mm higher, row B 25 mm lower than the middle.
    const [back, front] = [a1(), ground.slots.B1 as string];
    const light = await slotLightAt(bench.service.pool, [back, front], new Date('2026-06-21T00:00:00Z'));
    expect(light.get(back)?.par).toBeCloseTo(140 * Math.exp(1.5 * 0.025), 9);
    expect(light.get(front)?.par).toBeCloseTo(140 * Math.exp(-1.5 * 0.025), 9);
    expect((await viewed()).par).toBeCloseTo(light.get(back)?.par ?? 0, 9);
  });

  test('to another tank of the same water it takes its lots along; to other water it does not go', async () => {
    const { db } = bench.service;
    const size = { lengthMm: 1000, widthMm: 500, heightMm: 400 };
    const beside = await db.tank.create({ data: { systemId: ground.systemId, name: 'Tank 2', ...size } });
    const away = await db.system.create({ data: { siteId: ground.siteId, name: 'Deep', volumeL: 500 } });
    const far = await db.tank.create({ data: { systemId: away.id, name: 'Far', ...size } });
    bench.at(new Date('2026-06-25T00:00:00Z'));
    const refused = rehang({ tankId: far.id, lampId: null });
    await expect(refused).rejects.toThrow('Far runs in another water.');
    const shelf = { name: 'New', rows: '1', columns: '2', depthMm: '10', base: 'rock' };
    await owner.post(`/farm/tanks/${ground.tankId}/racks`, shelf);
    const unused = await db.rack.findFirstOrThrow({ where: { name: 'New' } });
    expect((await owner.get(`/farm/racks/${unused.id}`)).body).toContain('Deep, Far');
    const moved = await owner.post(`/farm/racks/${unused.id}`, { ...shelf, tankId: far.id, version: '1' });
    expect(moved.status, moved.body).toBe(303);
    await rehang({ tankId: beside.id, lampId: null });
    const { rows } = await bench.service.pool.query(
      'SELECT rack.tank_id FROM lot_place JOIN rack ON rack.id = rack_id WHERE lot_id = $1',
      [lotId],
    );
    expect(rows).toEqual([{ tank_id: beside.id }]);
    expect(await db.rackStand.count({ where: { rackId: ground.rackId } })).toBe(7);
  });
});
