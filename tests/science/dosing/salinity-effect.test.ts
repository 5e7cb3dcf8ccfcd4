import { describe, expect, it } from 'vitest';
import { salinityAfterExchange } from '../../../src/science/dilution.ts';
import { gramsForRise, lastingSalinityRise, salinityChangeOfDose } from '../../../src/science/dosing.ts';
import { published } from '../../support/published.ts';

const residue = published(
  'sodium chloride left by balanced dosing',
  'NaCl 58.44 g/mol; density UNESCO 44, p.19',
  1e-4,
);

describe('what a dose does to salinity', () => {
  it('is the dry salt over the mass of the water', () => {
    const grams = gramsForRise('calcium-chloride-dihydrate', 'calcium', 20, 1000);
    const dry = (grams * 110.978) / 147.008;
    const change = salinityChangeOfDose('calcium-chloride-dihydrate', grams, 1000, 35);
    expect(change).toBeGreaterThan(0.05);
    expect(change).toBeCloseTo((dry / 1023.34) * (35 / 35.165) * (1 - 0.035), 2);
  });

  it('is downwards for a thin solution, by its water', () => {
    const thin = salinityChangeOfDose('calcium-hydroxide', 1.65, 100, 35, 1);
    const water = salinityAfterExchange(101, 35, 1, 0) - 35;
    expect(thin).toBeLessThan(0);
    expect(thin).toBeGreaterThan(water - 0.02);
  });

  it('is nothing for no dose, and refused for none that can be', () => {
    expect(salinityChangeOfDose('sodium-bicarbonate', 0, 100, 35)).toBeCloseTo(0, 12);
    expect(() => salinityChangeOfDose('sodium-bicarbonate', -1, 100, 35)).toThrow(
      'dose -1 g must be 0 or above',
    );
    expect(() => salinityChangeOfDose('sodium-bicarbonate', 1, 100, Number.NaN)).toThrow(RangeError);
  });
});

describe('what stays behind when the dose is used up', () => {
  it('is a mole of sodium chloride for each equivalent', () => {
    residue.check(lastingSalinityRise(1000 / 58.44), (1000 / 1023.343) * (35 / 35.16504));
  });

  it('from 1 dKH a day in a month is about 0.6 of salinity', () => {
    expect(lastingSalinityRise(30 / 2.80385)).toBeCloseTo(0.61, 1);
  });
});
