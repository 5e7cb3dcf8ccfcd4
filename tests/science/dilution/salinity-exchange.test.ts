import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { salinityAfterExchange, salinityExchangeL } from '../../../src/science/dilution.ts';
import { num, referenceTable } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const mass = published(
  'salinity after an exchange',
  'salt balance with the EOS-80 densities of python-seawater 3.3.5',
  1e-7,
);

const salinity = fc.double({ min: 25, max: 41, noNaN: true });

describe('a salinity correction by exchange', () => {
  it('keeps salt and water by the published densities', () => {
    const densities = referenceTable('seawater_density_sg_table').filter((row) => row.t90_degC === '25');
    for (const row of densities) {
      const [rho, pure, s] = [num(row, 'rho_eos80_kg_m3'), num(row, 'rho_pure_eos80_kg_m3'), num(row, 'SP')];
      if (s === 0) continue;
      mass.check(salinityAfterExchange(100, s, 20, 0, 25), (80 * rho * s) / (80 * rho + 20 * pure));
    }
  });

  it('is undone by its inverse', () => {
    fc.assert(
      fc.property(salinity, salinity, (now, target) => {
        const replacement = target < now ? 0 : 42;
        const litres = salinityExchangeL(500, now, target, replacement);
        expect(salinityAfterExchange(500, now, litres, replacement)).toBeCloseTo(target, 9);
      }),
    );
  });

  it('takes a little more than the plain share, since fresh water is lighter', () => {
    const plain = 1000 * (1 - 33 / 35);
    const exact = salinityExchangeL(1000, 35, 33, 0);
    expect(exact).toBeGreaterThan(plain);
    expect(exact / plain).toBeLessThan(1.03);
  });

  it('is refused when the water to hand cannot do it', () => {
    expect(() => salinityExchangeL(1000, 33, 35, 34)).toThrow('water of salinity 34 cannot bring 33 to 35');
    expect(() => salinityExchangeL(1000, 35, 33, 34)).toThrow('water of salinity 34 cannot bring 35 to 33');
    expect(() => salinityExchangeL(0, 35, 33, 0)).toThrow('volume 0 L must be above 0');
    expect(() => salinityExchangeL(1000, Number.NaN, 33, 0)).toThrow(RangeError);
    expect(() => salinityAfterExchange(10, 35, 11, 0)).toThrow('exchanged volume 11 L is outside 0 to 10 L');
  });
});
