import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { leftIn, worstRise } from '../../src/farm/equipment/reservoir.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { type Ground, layGround } from './ground.ts';

let bench: Bench;
let manager: Visitor;
let hand: Visitor;
let ground: Ground;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager', 'Ines');
  hand = await bench.as('hand', 'Rui');
  ground = await layGround(bench);
});
afterAll(() => bench.close());

const idOf = (location: string | undefined) => location?.split('/').at(-1) ?? '';

describe('equipment on the books', () => {
  test('an empty list says what to begin with; a hand reads it and sets nothing up', async () => {
    const page = await hand.get('/farm/equipment');
    expect(page.status).toBe(200);
    expect(page.body).toContain('Begin with what kills fastest when it stops');
    expect((await hand.get('/farm/equipment/new')).status).toBe(403);
  });

  test('a circuit that fails names what stands still, and the water that would have no flow', async () => {
    const circuit = idOf(
      (await manager.post('/farm/circuits', { name: 'F7', place: 'north wall' })).location,
    );
    const common = { systemId: ground.systemId, tankId: '', circuitId: circuit };
    for (const [kind, name] of [
      ['return_pump', 'Main pump'],
      ['heater', 'Heater left'],
    ])
      expect((await manager.post('/farm/equipment', { ...common, kind, name })).status).toBe(303);
    const page = (await hand.get(`/farm/circuits/${circuit}`)).body;
    expect(page).toContain('If it fails, these stop');
    expect(page).toMatch(/: Main pump, Heater left/);
    expect(page).toContain('would have no flow');
    const refused = await manager.post(`/farm/circuits/${circuit}`, {
      name: 'F7',
      removed: 'yes',
      version: '1',
    });
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('Equipment is still on this circuit');
    expect((await manager.post('/farm/circuits', { name: 'F7' })).body).toContain(
      'already a circuit of this name',
    );
  });

  test('lamps stand among it by themselves, under the name that their own page gives', async () => {
    const lamp = await bench.service.db.lamp.findFirstOrThrow({ where: { tankId: ground.tankId } });
    await bench.service.db.lamp.update({ where: { id: lamp.id }, data: { name: 'Long row' } });
    const { id, kind, name } = await bench.service.db.equipment.findFirstOrThrow({
      where: { lampId: lamp.id },
    });
    expect({ kind, name }).toEqual({ kind: 'lamp', name: 'Long row' });
    const sent = { name: 'Other name', serviceEveryDays: '30', removed: 'yes', version: '1' };
    expect((await manager.post(`/farm/equipment/${id}`, sent)).status).toBe(303);
    const kept = await bench.service.db.equipment.findUniqueOrThrow({ where: { id } });
    expect(kept).toMatchObject({
      name: 'Long row',
      removedAt: null,
      serviceEveryDays: 30,
      tankId: ground.tankId,
    });
  });

  test('a container that was filled says for how many days it lasts', async () => {
    const doser = { kind: 'doser', name: 'Limewater doser', systemId: ground.systemId };
    const sent = { ...doser, reservoirL: '20', useLPerDay: '2', holds: 'limewater' };
    const at = (await manager.post('/farm/equipment', sent)).location ?? '';
    expect((await hand.get(at)).body).toContain('not known: say how much is in it');
    expect((await hand.post(`${at}/filling`, { filledL: '25' })).body).toContain('20 L at most');
    await hand.post(`${at}/filling`, { filledL: '18' });
    bench.at('2026-11-27T08:00:00Z');
    expect((await hand.get(at)).body).toContain('12 L, for about 6 days');
    bench.at('2026-11-24T08:00:00Z');
  });

  test('what does not fit together is refused beside its field, and nothing is lost', async () => {
    const half = {
      kind: 'heater',
      name: 'Second',
      systemId: ground.systemId,
      setpoint: '25',
      setpointUnit: '',
    };
    const refused = await manager.post('/farm/equipment', half);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('Enter the unit of the setpoint.');
    expect(refused.body).toContain('value="Second"');
    const elsewhere = { ...half, setpointUnit: '°C', tankId: ground.systemId };
    expect((await manager.post('/farm/equipment', elsewhere)).body).toContain('Choose a tank of its system.');
  });
});

describe('a container', () => {
  const filled = { reservoirL: 20, useLPerDay: 2, filledL: 10, filledAt: new Date('2026-11-20T08:00:00Z') };

  test.each([
    ['half used', '2026-11-22T20:00:00Z', { litres: 5, days: 2.5 }],
    ['empty since days', '2026-12-20T08:00:00Z', { litres: 0, days: 0 }],
  ])('%s', (_, now, left) => expect(leftIn(filled, new Date(now))).toEqual(left));

  test('of unknown use or filling leaves an unknown rest', () => {
    expect(leftIn({ ...filled, useLPerDay: null }, filled.filledAt)).toBeNull();
    expect(leftIn({ ...filled, filledAt: null, filledL: null }, filled.filledAt)).toBeNull();
  });

  // 56.8 L of saturated limewater (40.8 meq/L = 114.4 dKH) in 1,193 L: +5.4 dKH, reported case A10 of the trade;
  // 2.804 dKH a meq/L.
  test('that runs out at once raises the water by litres x strength / volume', () => {
    expect(worstRise({ reservoirL: 56.8, strength: 40.8 * 2.804 }, 1193)).toBeCloseTo(5.4, 1);
    expect(worstRise({ reservoirL: null, strength: 1 }, 1193)).toBeNull();
  });
});

describe('what hangs or stands elsewhere now', () => {
  const inOtherTank = () =>
    bench.service.db.tank.create({
      data: { systemId: ground.systemId, name: 'Side tank', lengthMm: 900, widthMm: 500, heightMm: 400 },
    });

  test('a pump is moved with what was noted of it, and a service that was not done is taken back', async () => {
    const tank = await inOtherTank();
    const made = await manager.post('/farm/equipment', {
      ...{ systemId: ground.systemId, kind: 'wave_pump', name: 'Wave left', tankId: ground.tankId },
    });
    const id = idOf(made.location);
    const page = `/farm/equipment/${id}`;
    expect((await hand.post(`${page}/upkeep`, { work: 'service', note: 'cleaned' })).status).toBe(303);
    const same = await manager.post(`${page}/tank`, { tankId: ground.tankId, since: '', version: '1' });
    expect(same.status).toBe(422);
    expect(same.body).toContain('already. Choose another tank.');
    const moved = await manager.post(`${page}/tank`, { tankId: tank.id, since: '', version: '1' });
    expect(moved.status, moved.body).toBe(303);
    expect((await bench.service.db.equipment.findUniqueOrThrow({ where: { id } })).tankId).toBe(tank.id);
    const service = await bench.service.db.upkeep.findFirstOrThrow({ where: { equipmentId: id } });
    const there = (await hand.get(page)).body;
    expect(there).toContain('cleaned');
    const { name } = await bench.service.db.tank.findUniqueOrThrow({ where: { id: ground.tankId } });
    expect(there).toMatch(new RegExp(`Where it was before[^]*${name}, [^:]*: until`));
    const back = `/farm/upkeep/${service.id}/removal`;
    expect((await hand.post(back, { reason: '' })).status).toBe(422);
    expect((await hand.post(back, { reason: 'It was the other pump' })).status).toBe(303);
    expect((await hand.get(page)).body).not.toContain('cleaned');
  });

  test('lamps hang over another tank, and the racks they left keep their light of before', async () => {
    const tank = await bench.service.db.tank.findFirstOrThrow({ where: { name: 'Side tank' } });
    const lamp = await bench.service.db.lamp.findFirstOrThrow({
      where: { tankId: ground.tankId },
      include: { racks: true },
    });
    const page = (await manager.get(`/farm/lamps/${lamp.id}/tank`)).body;
    const seen = /name="seen" value="([^"]*)"/.exec(page)?.[1] ?? '';
    const moved = await manager.post(`/farm/lamps/${lamp.id}/tank`, { tankId: tank.id, since: '', seen });
    expect(moved.status, moved.body).toBe(303);
    expect((await bench.service.db.lamp.findUniqueOrThrow({ where: { id: lamp.id } })).tankId).toBe(tank.id);
    expect((await manager.get(`/farm/lamps/${lamp.id}`)).body).toContain('Where it was before');
    for (const { id } of lamp.racks) {
      const stands = await bench.service.db.rackStand.findMany({
        where: { rackId: id },
        orderBy: { at: 'asc' },
      });
      expect(stands.map(({ lampId }) => lampId)).toEqual([lamp.id, null]);
    }
  });

  test('what was noted as off by mistake is taken back with its reason', async () => {
    const pump = await bench.service.db.equipment.findFirstOrThrow({ where: { name: 'Wave left' } });
    const off = { systemId: ground.systemId, pick: `equipment:${pump.id}`, why: 'cleaning', minutes: '30' };
    expect((await hand.post('/farm/switched-off', off)).status).toBe(303);
    const { id } = await bench.service.db.switchedOff.findFirstOrThrow({ where: { equipmentId: pump.id } });
    const taken = await hand.post(`/farm/switched-off/${id}/voiding`, { reason: 'The wrong pump' });
    expect(taken.status, taken.body).toBe(303);
    expect((await hand.get(`/farm/switched-off/${id}`)).body).toContain('Taken back: The wrong pump');
    expect((await hand.post(`/farm/switched-off/${id}/voiding`, { reason: 'Again' })).status).toBe(409);
  });
});
