import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type DosedQuantity,
  gramsForRise,
  millilitresForRise,
  riseFromGrams,
  riseFromMillilitres,
  SUBSTANCES,
  type Substance,
  type SubstanceCode,
  solutionByClaim,
  solutionOf,
} from '../../../src/science/dosing.ts';
import { convertDifference } from '../../../src/science/units.ts';
import { num, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const stoichiometry = published('dosing stoichiometry', 'IUPAC atomic weights 2021, table', {
  absolute: 5.1e-6,
});
const worked = published(
  'dose of a solution',
  'published worked example, its target put right: 32.4 mL',
  1e-9,
);
const calcification = published(
  'calcium used with alkalinity',
  'CaCO3: 20.04 mg/L per meq/L, 7.15 per dKH',
  1e-3,
);

const CODES = Object.fromEntries(
  Object.entries(SUBSTANCES).map(([code, { formula }]) => [formula, code]),
) as Record<string, SubstanceCode>;
const quantities: DosedQuantity[] = ['alkalinity', 'calcium', 'magnesium'];

describe('a dry substance', () => {
  const rows = referenceTable('dosing_stoichiometry').filter((row) => text(row, 'substance') in CODES);
  const perGram = rows.filter((row) => text(row, 'quantity').endsWith('per gram'));
  const forRise = rows.filter((row) => text(row, 'quantity').startsWith('grams for'));

  it.each(perGram)('$substance: $quantity $value', (row) => {
    const code = CODES[text(row, 'substance')] as SubstanceCode;
    const quantity = quantities.find((name) => text(row, 'quantity').startsWith(name)) as DosedQuantity;
    stoichiometry.check(riseFromGrams(code, 1, 1)[quantity] ?? Number.NaN, num(row, 'value'));
  });

  it.each(forRise)('$substance: $quantity $value', (row) => {
    const code = CODES[text(row, 'substance')] as SubstanceCode;
    const [, rise = '', unit = ''] = /for \+([\d.]+) (meq\/L|dKH|mg\/L)/.exec(text(row, 'quantity')) ?? [];
    const isDkh = unit === 'dKH';
    const canonical = isDkh ? convertDifference('alkalinity', Number(rise), 'dKH', 'meq/L') : Number(rise);
    const quantity =
      unit === 'mg/L' ? (text(row, 'quantity').includes('Ca') ? 'calcium' : 'magnesium') : 'alkalinity';
    stoichiometry.check(gramsForRise(code, quantity, canonical, 100), num(row, 'value'));
  });

  it('raises what it was weighed for, at any purity and volume', () => {
    const cases = Object.keys(SUBSTANCES).flatMap((code) => {
      const { perGram: raised }: Substance = SUBSTANCES[code as SubstanceCode];
      return (Object.keys(raised) as DosedQuantity[]).map((quantity) => ({
        code: code as SubstanceCode,
        quantity,
      }));
    });
    const volume = fc.double({ min: 10, max: 20_000, noNaN: true });
    fc.assert(
      fc.property(
        fc.constantFrom(...cases),
        volume,
        fc.double({ min: 0.5, max: 1, noNaN: true }),
        ({ code, quantity }, litres, purity) => {
          const grams = gramsForRise(code, quantity, 1.5, litres, purity);
          expect(riseFromGrams(code, grams, litres, purity)[quantity]).toBeCloseTo(1.5, 9);
        },
      ),
    );
  });

  it('brings calcium and alkalinity together from lime, in the ratio that calcification takes them', () => {
    const { calcium = 0, alkalinity = 1 } = riseFromGrams('calcium-hydroxide', 10, 100);
    calcification.check(calcium / alkalinity, 20.04);
    calcification.check(calcium / convertDifference('alkalinity', alkalinity, 'meq/L', 'dKH'), 7.15);
  });

  it('is refused for what it does not raise, and for amounts that are none', () => {
    expect(() => gramsForRise('sodium-bicarbonate', 'calcium', 20, 100)).toThrow(
      'sodium bicarbonate does not raise calcium',
    );
    expect(() => gramsForRise('sodium-bicarbonate', 'alkalinity', -1, 100)).toThrow(
      'rise of alkalinity -1 must be 0 or above',
    );
    expect(() => gramsForRise('sodium-bicarbonate', 'alkalinity', 1, 0)).toThrow(
      'volume 0 L must be above 0',
    );
    expect(() => gramsForRise('sodium-bicarbonate', 'alkalinity', 1, 100, 80)).toThrow(
      'purity 80 is outside 0.5 to 1',
    );
    expect(() => riseFromGrams('calcium-chloride', Number.NaN, 100)).toThrow(RangeError);
  });
});

describe('a solution', () => {
  it('is dosed by what its bottle claims: 2.7 mL in 100 L for 0.1 dKH, 7.7 to 8.3 dKH in 200 L', () => {
    const dkh = (value: number) => convertDifference('alkalinity', value, 'dKH', 'meq/L');
    const solution = solutionByClaim('alkalinity', dkh(0.1), 2.7, 100);
    worked.check(millilitresForRise(solution, 'alkalinity', dkh(8.3 - 7.7), 200), 32.4);
    worked.check(millilitresForRise(solution, 'alkalinity', dkh(0.8 / 3), 200), 14.4);
  });

  it('of a dry substance holds what was weighed in', () => {
    const solution = solutionOf('sodium-bicarbonate', 60);
    const grams = gramsForRise('sodium-bicarbonate', 'alkalinity', 0.5, 300);
    expect(millilitresForRise(solution, 'alkalinity', 0.5, 300)).toBeCloseTo((grams / 60) * 1000, 9);
    expect(riseFromMillilitres(solution, 100, 300).alkalinity).toBeCloseTo(
      riseFromGrams('sodium-bicarbonate', 6, 300).alkalinity ?? 0,
      12,
    );
  });

  it('is refused for what it does not raise', () => {
    const solution = solutionOf('calcium-chloride-dihydrate', 100);
    expect(() => millilitresForRise(solution, 'alkalinity', 1, 100)).toThrow(
      'this solution does not raise alkalinity',
    );
    expect(() => solutionByClaim('calcium', 0, 1, 100)).toThrow('rise of calcium 0 must be above 0');
  });
});
