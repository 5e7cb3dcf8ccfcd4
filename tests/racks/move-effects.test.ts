import { describe, expect, test } from 'vitest';
import { leastSteps, paceBy } from '../../src/stock/light/pace.rules.ts';
import { moveEffect, suitsLot } from '../../src/stock/places/move-effects.rules.ts';

describe('a place for a lot', () => {
  const habit = {
    ...{ adaptationDays: 10, stepRatio: 1.2, parLow: 50, parHigh: 120, parCeiling: 150 },
    ...{
      flowLow: 1,
      flowHigh: 2,
      jet: 'never on flesh',
      base: null,
      reachMm: 50,
      accustomed: 2,
      isAccustomed: true,
    },
  };
  const place = (par: number, dli: number) => ({
    light: { par, error: 3, dli, measured: true, estimated: false },
    flow: 'low' as const,
    jet: false,
  });
  test('suits when light and flow are known and nothing speaks against it', () => {
    expect(suitsLot(place(80, 2.4), habit)).toBe(true);
    expect(suitsLot(place(80, 2.5), habit)).toBe(false);
    expect(suitsLot(place(40, 1), habit)).toBe(false);
    expect(suitsLot({ ...place(80, 2), jet: true }, habit)).toBe(false);
    expect(suitsLot({ ...place(80, 2), flow: 'high' }, habit)).toBe(false);
    expect(suitsLot({ ...place(80, 2), light: null }, habit)).toBe(false);
  });
  test('says so where nothing is known of what it is used to, or the light there is scaled', () => {
    const unknown = moveEffect(null, place(80, 2.4), { ...habit, accustomed: null });
    expect(unknown.statements[0]).toBe('Light: 80 µmol/(m² s). What it is used to is not known.');
    const young = moveEffect(null, place(80, 2.4), { ...habit, isAccustomed: false });
    expect(young.statements[0]).toContain(
      '1.2 times the daily light measured for it so far; what it is used to is not known yet',
    );
    const scaled = place(80, 2);
    const said = moveEffect(null, { ...scaled, light: { ...scaled.light, estimated: true } }, habit);
    expect(said.statements[1]).toContain('should be measured again');
  });
  // What a kind does not state is as in plans: 7 days a stay, adapting in 10 (common practice).
  test('far brighter takes as many steps and days as a plan of them begins with', () => {
    const kind = { ...habit, stepRatio: 1.15, adaptationDays: null, dwellDays: null, parCeiling: null };
    const least = leastSteps(5.33 / 2, paceBy({ stepRatio: 1.15 }));
    expect(moveEffect(null, place(120, 5.33), kind).risks.join(' ')).toContain(
      `an acclimation of at least ${least?.steps} steps over ${least?.days} days`,
    );
  });
});
