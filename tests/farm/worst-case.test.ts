import { afterAll, beforeAll, expect, test } from 'vitest';
import { worstCase } from '../../src/farm/equipment/worst-case.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

let bench: Bench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager', 'Ada');
});
afterAll(() => bench.close());

const source = {
  kind: 'doser' as const,
  reservoirL: 10,
  useLPerDay: null,
  holds: '',
  strengthCode: null,
  strength: null,
};

test('56.8 L of saturated limewater in 1,193 L raise alkalinity by about 5.5 dKH and dilute the salt', () => {
  // A farm's own report: 56.8 L saturated in 1,193 L; 40.8 meq/L (Bates 1958 solubility) give 1.94 meq/L, 5.4 dKH, pH 9.5.
  const worst = worstCase({ ...source, kind: 'top_up', reservoirL: 56.8, holds: 'limewater' }, 1193);
  expect(worst?.isOver).toBe(true);
  const said = worst?.says.join(' ') ?? '';
  expect(Number(/raises alkalinity by (\S+) dKH/.exec(said)?.[1])).toBeCloseTo(5.5, 0);
  expect(Number(/to about (\S+) \(/.exec(said)?.[1])).toBeCloseTo(9.5, 0);
  expect(said).toContain('from 35 to 33.4');
});

test('what is not known is not said, and what a day can bear is no warning', () => {
  expect(worstCase(source, 1000)?.says).toEqual(['Not known: enter how much of what a litre holds.']);
  expect(worstCase({ ...source, reservoirL: null }, 1000)?.says[0]).toContain('what its container holds and');
  expect(
    worstCase({ ...source, kind: 'heater', strengthCode: 'alkalinity', strength: 1000 }, 1000),
  ).toBeNull();
  const small = worstCase({ ...source, reservoirL: 0.2, strengthCode: 'alkalinity', strength: 1000 }, 1000);
  expect(small).toMatchObject({ isOver: false });
  expect(small?.says[0]).toContain('raises alkalinity by 0.6 dKH');
});

test('a top-up fed by a line without end, and one that stops', () => {
  // 35 exp(-0.1) = 31.7; 35 to 28 by overflow: V ln(35/28) = 223 L. 8.6 L a day not replaced: 35.9 after three days.
  const line = worstCase({ ...source, kind: 'top_up', reservoirL: null, useLPerDay: 8.6 }, 1000);
  expect(line?.isOver).toBe(true);
  expect(line?.says[0]).toContain('100 L take the salinity from 35 to 31.7, and 223 L to 28');
  expect(line?.says[1]).toBe(
    'If it stops, the salinity rises from 35 to 35.3 in a day, 35.9 in three and 37.2 in a week.',
  );
});

test('stands on the page of the device, with the warning', async () => {
  const systemId = await makeSystem(bench, 'Long run');
  const { id } = await bench.service.db.equipment.create({
    data: {
      systemId,
      kind: 'doser',
      name: 'Soda pump',
      reservoirL: 10,
      holds: 'sodium carbonate',
      strengthCode: 'alkalinity',
      strength: 1000,
    },
  });
  const { body } = await manager.get(`/farm/equipment/${id}`);
  expect(body).toContain('10 L at once raises alkalinity by 28.0 dKH; the cap of a day is 1.0 dKH.');
  expect(body).toContain('More than is safe in a day');
});
