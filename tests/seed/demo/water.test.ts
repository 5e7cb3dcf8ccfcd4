import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Brine, SOLUTES, Water } from '../../../seed/demo/water.ts';
import { numbers } from './farms.ts';

const START = { alkalinity: 3, calcium: 420, magnesium: 1300, nitrate: 8, phosphate: 0.05 };
const FRESH = { alkalinity: 2.9, calcium: 430, magnesium: 1290, nitrate: 0.5, phosphate: 0.01 };

describe('the water of a system', () => {
  // The dilution model N -> N (1 - f) + s f: a 30 % change of 12 dKH water into 8 dKH raises it by 1.2 dKH
  // (arithmetic from a published club thread, common practice).
  test('takes a water change as dilution does', () => {
    const water = new Water({ ...START, alkalinity: 8 });
    water.change(0.3, { ...FRESH, alkalinity: 12 });
    expect(water.level.alkalinity).toBeCloseTo(9.2, 10);
  });

  test('tends to the level at which changes carry off what is made: s + p/f for p between changes', () => {
    const water = new Water(START);
    for (let week = 0; week < 400; week++) {
      water.live('nitrate', 1);
      water.change(0.12, FRESH);
    }
    expect(water.level.nitrate).toBeCloseTo(0.5 + (1 * 0.88) / 0.12, 6);
  });

  test('loses and gains nothing that is not in its account', () => {
    const step = fc.record({
      what: fc.constantFrom('dose', 'live', 'change'),
      solute: fc.constantFrom(...SOLUTES),
      much: fc.double({ min: 0, max: 1, noNaN: true }),
    });
    fc.assert(
      fc.property(fc.array(step, { maxLength: 60 }), (steps) => {
        const water = new Water(START);
        for (const { what, solute, much } of steps) {
          if (what === 'change') water.change(much, FRESH);
          else if (what === 'dose') water.dose(solute, much);
          else water.live(solute, -much);
        }
        for (const solute of SOLUTES) {
          const { start, dosed, lived, changed } = water.flows[solute];
          expect(water.level[solute]).toBeCloseTo(start + dosed + lived + changed, 9);
        }
      }),
    );
  });
});

describe('salt and water', () => {
  test('evaporation concentrates, the float valve brings it back', () => {
    const brine = new Brine(1000, 35);
    brine.evaporate(10);
    expect(brine.salinity).toBeCloseTo(35 / 0.99, 10);
    brine.topUp(0);
    expect(brine.salinity).toBeCloseTo(35, 10);
  });

  test('a change brings the salinity nearer to that of the new water', () => {
    const brine = new Brine(1000, 36);
    brine.change(0.25, 34);
    expect(brine.salinity).toBeCloseTo(35.5, 10);
  });
});

describe('the mass balance of the demo farm', () => {
  test.each(numbers)('closes for every solute of every system (seed %d)', (seed, farmOf) => {
    for (const { flows, end, name } of farmOf(seed).truth.systems) {
      for (const solute of SOLUTES) {
        const { start, dosed, lived, changed } = flows[solute];
        expect(start + dosed + lived + changed, `${name} ${solute}`).toBeCloseTo(end[solute], 8);
      }
    }
  });

  // 20.04 mg of calcium to the meq of alkalinity: half the molar mass of calcium, IUPAC 2021.
  test.each(numbers)('calcium goes with alkalinity as calcification has it (seed %d)', (seed, farmOf) => {
    for (const { flows } of farmOf(seed).truth.systems) {
      expect(flows.calcium.lived / flows.alkalinity.lived).toBeCloseTo(40.078 / 2, 1);
    }
  });

  // Tank demand: 0.25 dKH a day in a young system, 1 to 3 in a grown one (forum, common practice).
  test.each(numbers)('the stock uses what such stock uses (seed %d)', (seed, farmOf) => {
    for (const { flows, mornings } of farmOf(seed).truth.systems) {
      const perDay = (-flows.alkalinity.lived * 2.804) / mornings.length;
      expect(perDay).toBeGreaterThan(0.1);
      expect(perDay).toBeLessThan(3);
    }
  });
});
