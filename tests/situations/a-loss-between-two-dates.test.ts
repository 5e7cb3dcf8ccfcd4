import { describe, expect, test } from 'vitest';
import { millilitresForRise, solutionByClaim } from '../../src/science/dosing.ts';
import { convertDifference } from '../../src/science/units.ts';
import { type DemandReading, rateOf } from '../../src/water/demand/rate.rules.ts';
import { ratePeriodWords } from '../../src/water/demand/words.rules.ts';

// A how-to page on balanced dosing: 200 L, day 1 8.5 dKH, day 4 7.7 dKH, no dosing. The page counts "four days" and 0.2
// a day, wants 8.3 (elsewhere 8), calls that 0.5 away, and comes to 27 mL at once and 10.8 mL a day of a stock of which
// 2.7 mL raise 100 L by 0.1 dKH. By the clock it is three days, 0.267 a day, 0.6 away, 32.4 mL and 14.4 mL a day.

const dkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
const at = (iso: string) => Date.parse(iso) / 86_400_000;
const reading = (iso: string, value: number): DemandReading => ({
  day: at(iso),
  value: value * dkh,
  u: 0.1 * dkh,
  below: false,
  trust: 'plain',
  instrument: 'one kit',
  suspect: false,
});
const undosed = { changes: [], doses: [], makeUp: null };
const loss = rateOf([reading('2026-03-01T09:00:00Z', 8.5), reading('2026-03-04T09:00:00Z', 7.7)], undosed);
const stock = solutionByClaim('alkalinity', 0.1 * dkh, 2.7, 100);
const millilitres = (rise: number) => millilitresForRise(stock, 'alkalinity', rise * dkh, 200);

describe('a loss between two dates', () => {
  test('is counted in hours by the clock, not in named days', () => {
    expect(-(loss?.perDay ?? 0) / dkh).toBeCloseTo(0.8 / 3, 6);
    const evening = rateOf(
      [reading('2026-03-01T09:00:00Z', 8.5), reading('2026-03-04T21:00:00Z', 7.7)],
      undosed,
    );
    expect(-(evening?.perDay ?? 0) / dkh).toBeCloseTo(0.8 / 3.5, 6);
  });

  test('is shown with the hours it rests on', () => {
    if (loss === null) throw new Error('two readings make a rate');
    const said = ratePeriodWords(loss, 'UTC', new Date('2026-03-05T00:00:00Z'));
    expect(said).toBe('2 readings from 1 Mar 09:00 to 4 Mar 09:00, 72 h apart');
  });

  test('takes a third more of the stock a day than the page says, and 32.4 mL for the missing 0.6 dKH', () => {
    expect(millilitres(8.3 - 7.7)).toBeCloseTo(32.4, 6);
    expect(millilitres(-(loss?.perDay ?? 0) / dkh)).toBeCloseTo(14.4, 6);
  });

  test('knows from two readings no more than two readings can tell', () => {
    expect((loss?.high ?? 0) / dkh).toBeCloseTo(-0.8 / 3 + (1.96 * 0.1 * Math.SQRT2) / 3, 3);
  });
});
