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

  test('a circuit that fails names what stands still, and the water that has no flow left then', async () => {
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
    expect(page).toContain('If it fails, these stand still');
    expect(page).toMatch(/: Main pump, Heater left/);
    expect(page).toContain('has no flow left then');
    const refused = await manager.post(`/farm/circuits/${circuit}`, {
      name: 'F7',
      removed: 'yes',
      version: '1',
    });
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('Equipment still hangs on it');
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
