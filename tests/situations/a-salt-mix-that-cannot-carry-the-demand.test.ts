import { describe, expect, test } from 'vitest';
import { quantities } from '../../seed/library.ts';
import { convertDifference } from '../../src/science/units.ts';
import { type DemandReading, rateOf } from '../../src/water/demand/rate.rules.ts';
import { levelJumpOf, supplyOf } from '../../src/water/demand/supply.rules.ts';
import { dosingAdvice, levelJumpWarning, weeklyWords } from '../../src/water/demand/words.rules.ts';
import { caps } from '../../src/water/dosing/substances.rules.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';

// A club thread: growing systems use 1 to 3 dKH a day, a young one 0.25, which is 1.75 a week; a weekly change of 10 %
// with water of 12 dKH into 9 dKH brings 0.30. A change of 30 %, 12 into 8 dKH, lifts by 1.2 dKH at once.

const dkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
const alkalinity = quantities().find(({ code }) => code === 'alkalinity') as unknown as Quantity;

/** Four weeks at a level around 9 dKH, held by doses beside weekly changes; used `use` a day. */
function system(use: number, dosed: number) {
  const changes = [3.5, 10.5, 17.5, 24.5].map((day) => ({ day, fraction: 0.1 }));
  const readings: DemandReading[] = [];
  const doses: { day: number; rise: number }[] = [];
  let level = 9;
  for (let half = 0; half <= 56; half++) {
    const day = half / 2;
    if (half % 2 === 0) {
      const value = level * dkh;
      readings.push({
        day,
        value,
        u: 0.05 * dkh,
        below: false,
        trust: 'plain',
        instrument: '',
        suspect: false,
      });
      doses.push({ day: day + 0.01, rise: dosed * dkh });
      level += dosed;
    }
    if (changes.some((change) => change.day === day)) level = level * 0.9 + 12 * 0.1;
    level -= use / 2;
  }
  const rate = rateOf(readings, { changes, doses, makeUp: 12 * dkh });
  if (rate === null) throw new Error('there are readings');
  return { rate, supply: supplyOf(rate, 12 * dkh) };
}

const logged = {
  ...{
    readings: [],
    makeUpStated: true,
    correctedKits: [],
    unknownDoses: [],
    hasDoser: false,
    learntSince: null,
  },
  log: { changes: [], doses: [{ day: 0, rise: 0.21 * dkh }], makeUp: 12 * dkh },
};

describe('a salt mix that cannot carry the demand', () => {
  test('brings 0.3 dKH a week where 1.75 are used, and the gap is said', () => {
    const { supply, rate } = system(0.25, 0.21);
    expect(supply.use / dkh).toBeCloseTo(0.25, 3);
    expect((7 * (supply.returned ?? 0)) / dkh).toBeCloseTo(0.3, 1);
    expect((7 * supply.gap) / dkh).toBeCloseTo(1.45, 1);
    expect(supply.verdict).toBe('needs dosing');
    expect(weeklyWords(alkalinity, supply, rate.level)).toMatch(
      /^1\.75 dKH are used; the changes, 11 % a week, bring 0\.3\d dKH back; 1\.4\d dKH are left to dose\.$/,
    );
    const means = dosingAdvice(alkalinity, { rate, days: 28 }, supply, {
      volumeL: 1000,
      data: logged,
      today: rate.toDay,
    });
    // 1.45 dKH a week is 0.207 a day, 30.0 g a dKH in 1,000 L.
    expect(means).toMatch(/^Needs 6\.\d g of sodium bicarbonate a day \(.*\) beside the water changes/);
  });

  test('keeps up alone where little is used', () => {
    const { supply, rate } = system(0.04, 0);
    expect(supply.verdict).toBe('changes keep up');
    const means = dosingAdvice(alkalinity, { rate, days: 28 }, supply, {
      volumeL: 1000,
      data: logged,
      today: rate.toDay,
    });
    expect(means).toMatch(/^Water changes alone keep up/);
  });

  test('is warned of where one change moves alkalinity by more than a day may', () => {
    const step = levelJumpOf(8 * dkh, 12 * dkh, 0.3, caps.alkalinity.usual);
    expect((step?.change ?? 0) / dkh).toBeCloseTo(1.2, 6);
    expect(step?.largest).toBeCloseTo(0.25, 6);
    expect(levelJumpWarning(alkalinity, step, 8 * dkh, 12 * dkh)).toMatch(
      /^One change of 30 % with water of 12\.0 dKH takes alkalinity from 8\.0 dKH up by 1\.2 dKH at once, more than 1\.0 dKH a day\. Change at most 25 % at a time/,
    );
    expect(levelJumpOf(9 * dkh, 12 * dkh, 0.1, caps.alkalinity.usual)).toBeNull();
  });
});
