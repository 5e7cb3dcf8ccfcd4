import { describe, expect, it } from 'vitest';
import { carbonateFromDic, carbonateFromPh } from '../../../src/science/carbonate.ts';
import {
  LIMEWATER_UNCERTAINTY,
  limeSolubilityGPerL,
  limewaterLimitMeqLPerDay,
  phAfterAlkalinityDose,
  riseUpToPh,
  saturatedLimewater,
} from '../../../src/science/dosing.ts';
import { num, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const handbook = published(
  'solubility of lime',
  'handbook series (handbook not named where it was read)',
  1e-12,
);
const models = published(
  'solubility of lime against models',
  'PHREEQC 3: Thermoddem, minteq, wateq4f, pitzer',
  LIMEWATER_UNCERTAINTY / (1 - LIMEWATER_UNCERTAINTY),
);

describe('saturated limewater', () => {
  const rows = referenceTable('calcium_hydroxide_solubility');

  it('holds what the series says, and what models give within their spread', () => {
    for (const row of rows.filter((candidate) => text(candidate, 'source').startsWith('handbook series'))) {
      handbook.check(limeSolubilityGPerL(num(row, 't_degC')), num(row, 'solubility'));
    }
    for (const row of rows.filter((candidate) => text(candidate, 'how_obtained').includes('PHREEQC'))) {
      models.check(limeSolubilityGPerL(num(row, 't_degC')), num(row, 'solubility'));
    }
  });

  it('is weaker warm, and falls straight between the published temperatures', () => {
    expect(limeSolubilityGPerL(25)).toBeCloseTo((1.65 + 1.53) / 2, 12);
    expect(saturatedLimewater(30).perMl.alkalinity).toBeLessThan(
      saturatedLimewater(20).perMl.alkalinity ?? 0,
    );
    expect(() => limeSolubilityGPerL(50)).toThrow(
      'temperature of the limewater 50 degC is outside 0 to 40 degC',
    );
  });

  it('brings no more than evaporation makes room for', () => {
    const perLitre = (saturatedLimewater(20).perMl.alkalinity ?? 0) * 1000;
    expect(limewaterLimitMeqLPerDay(10, 1000, 20)).toBeCloseTo((10 * perLitre) / 1000, 12);
    expect(() => limewaterLimitMeqLPerDay(1001, 1000, 20)).toThrow('evaporation 1001 L/d');
  });
});

describe('the pH right after a dose', () => {
  const sea = { salinity: 35, temperatureDegC: 25, alkalinityUmolKg: 2700 };

  it('rises most with limewater, half as much with sodium carbonate; bicarbonate lowers it a little', () => {
    const change = (code: Parameters<typeof phAfterAlkalinityDose>[3]) =>
      phAfterAlkalinityDose(sea, 8.1, 200, code) - 8.1;
    expect(change('calcium-hydroxide')).toBeGreaterThan(1.8 * change('sodium-carbonate'));
    expect(change('sodium-carbonate')).toBeGreaterThan(0.05);
    expect(change('sodium-bicarbonate')).toBeLessThan(0);
    expect(change('sodium-bicarbonate')).toBeGreaterThan(-0.04);
  });

  it('is that of the same carbon with more alkalinity', () => {
    const { dicUmolKg } = carbonateFromPh(sea, 8.1);
    const expected = carbonateFromDic({ ...sea, alkalinityUmolKg: 2900 }, dicUmolKg).phTotal;
    expect(phAfterAlkalinityDose(sea, 8.1, 200, 'calcium-hydroxide')).toBeCloseTo(expected, 10);
  });

  it('bounds the dose', () => {
    const rise = riseUpToPh(sea, 8.1, 8.4, 'calcium-hydroxide');
    expect(phAfterAlkalinityDose(sea, 8.1, rise, 'calcium-hydroxide')).toBeCloseTo(8.4, 8);
    expect(riseUpToPh(sea, 8.1, 8.4, 'sodium-bicarbonate')).toBe(3000);
    expect(riseUpToPh(sea, 8.1, 8.1, 'calcium-hydroxide')).toBe(0);
    expect(() => riseUpToPh(sea, 8.4, 8.1, 'calcium-hydroxide')).toThrow(
      'highest pH allowed 8.1 is outside 8.4 to 9',
    );
    expect(() => phAfterAlkalinityDose(sea, 8.1, 200, 'calcium-chloride')).toThrow(
      'does not raise alkalinity',
    );
  });
});
