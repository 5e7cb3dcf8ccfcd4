import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import {
  lighteningNow,
  lighteningOf,
  rackShift,
  tellLightening,
} from '../../../src/science/whiteness/lightening.ts';
import { LIGHTENING } from '../../../src/science/whiteness/limits.ts';
import { medianPolish } from '../../../src/science/whiteness/polish.ts';
import { followRack, type RackSeries } from '../../../src/science/whiteness/rack-series.ts';
import { pairSpread, type Shot, visitsOf } from '../../../src/science/whiteness/visits.ts';
import { lights, whitenessWorld } from '../../bench/whiteness/worlds.ts';
import { num, referenceTable } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

/** Lots "0", "1", ... by photograph; `of` says how white a lot is in one. */
function rack(
  lots: number,
  days: readonly number[],
  of: (lot: number, visit: number, noise: () => number) => number | null,
): Shot[] {
  const random = seededRandom(11);
  return days.map((day, visit) => ({
    day,
    lots: new Map(
      Array.from({ length: lots }, (_, lot) => [lot, of(lot, visit, () => random.normal())] as const).flatMap(
        ([lot, L]) => (L === null ? [] : [[String(lot), { L, u: 0.5 }] as const]),
      ),
    ),
  }));
}
const weekly = (visits: number) => Array.from({ length: visits }, (_, i) => 7 * i);
const toldIn = (series: RackSeries, lot: string) => {
  const judged = lighteningOf(series, series.lots.get(lot) ?? []);
  return typeof judged === 'string' ? judged : tellLightening(judged, LIGHTENING);
};
const told = (shots: readonly Shot[], lot: string) => toldIn(followRack(shots), lot);

describe('the median polish', () => {
  it('gives the effects and the rest of a published table', () => {
    const rows = referenceTable('polish_deaths');
    const table = rows.map((row) => [1, 2, 3].map((j) => num(row, `column_${j}`)));
    const { overall, rows: effects, columns, left } = medianPolish(table);
    const line = published('median polish', 'Tukey 1977, p. 148, as in R medpolish (from memory)', 1e-12);
    line.check(overall, 8);
    for (const [j, value] of [0, -1, 0].entries()) line.check(columns[j] ?? Number.NaN, value);
    for (const [i, row] of rows.entries()) {
      line.check(effects[i] ?? Number.NaN, num(row, 'effect'));
      for (const j of [0, 1, 2]) line.check(left[i]?.[j] ?? Number.NaN, num(row, `left_${j + 1}`));
    }
  });

  it('bears missing values', () => {
    const { overall, rows, columns } = medianPolish([
      [1, null, 3],
      [11, 12, null],
      [null, 22, 23],
    ]);
    for (const [i, row] of rows.entries())
      expect(overall + row + (columns[0] ?? 0)).toBeCloseTo(1 + 10 * i, 5);
  });
});

describe('a rack in photographs', () => {
  it('has the shift that all lots share taken out, and what one lot did left in', () => {
    const shifts = [0, 2, -1, 3, 0, 1, 4, 4];
    const shots = rack(12, weekly(8), (lot, visit, noise) => {
      const own = lot === 3 && visit >= 6 ? 5 : 0;
      return 40 + lot + (shifts[visit] ?? 0) + own + 0.3 * noise();
    });
    const series = followRack(shots);
    expect(toldIn(series, '3')).toBe('told');
    for (const lot of ['0', '1', '2', '4', '11']) expect(toldIn(series, lot)).toBe('not told');
    const { shifts: found } = series;
    const middle = found[0]?.value ?? 0;
    for (const [i, shift] of shifts.entries()) expect((found[i]?.value ?? 0) - middle).toBeCloseTo(shift, 0);
  });

  it('tells a shift of all lots of the rack alone, not thirty times of lots', () => {
    const shots = rack(
      30,
      weekly(12),
      (lot, visit, noise) => 35 + lot / 2 + (visit >= 10 ? 5 : 0) + 0.5 * noise(),
    );
    const series = followRack(shots);
    for (let lot = 0; lot < 30; lot++) expect(toldIn(series, String(lot))).toBe('not told');
    const shift = rackShift(series);
    expect(shift?.mean).toBeCloseTo(5, 0);
    expect(shift?.sure).toBeGreaterThan(3);
  });

  it('says nothing of one photograph, of two lots’ shift, or before a lot was photographed five times', () => {
    const once = rack(
      12,
      weekly(8),
      (lot, visit, noise) => 40 + (lot === 3 && visit === 7 ? 8 : 0) + 0.3 * noise(),
    );
    expect(told(once, '3')).not.toBe('told');
    const few = rack(2, weekly(8), (_, visit, noise) => 40 + (visit >= 6 ? 2 : 0) + 0.3 * noise());
    expect(told(few, '0')).toBe('not told');
    expect(rackShift(followRack(few))).toBeNull();
    expect(
      told(
        rack(12, weekly(4), () => 40),
        '3',
      ),
    ).toBe('too few photographs');
    expect(told([], '3')).toBe('too few photographs');
  });

  it('learns from two photographs of one visit what any two differ by, whatever all share', () => {
    const random = seededRandom(5);
    const shots = Array.from({ length: 400 }, (_, i): Shot => {
      const shared = 3 * random.normal();
      const day = Math.floor(i / 2) * 7 + (i % 2) / 200;
      const lots = Array.from(
        { length: 20 },
        (_, lot) => [String(lot), { L: 40 + lot + shared + 0.6 * random.normal(), u: 0.5 }] as const,
      );
      return { day, lots: new Map(lots) };
    });
    expect(pairSpread(shots)?.sd).toBeCloseTo(0.6, 1);
    expect(visitsOf(shots)).toHaveLength(200);
  });

  it('begins a lot’s line anew at a cut, and at a look that found it well after it was told', () => {
    const shots = rack(
      12,
      weekly(11),
      (lot, visit, noise) => 40 + (lot === 3 && visit >= 6 ? 6 : 0) + 0.3 * noise(),
    );
    const series = followRack(shots.slice(0, 8));
    const visits = series.lots.get('3') ?? [];
    const status = (known: { cutDay: number | null; wellDays: number[] }, all = visits) => {
      const judged = lighteningNow(series, all, known, LIGHTENING);
      return typeof judged === 'string' ? judged : tellLightening(judged, LIGHTENING);
    };
    expect(status({ cutDay: null, wellDays: [] })).toBe('told');
    // A look from before says nothing of what came since.
    expect(status({ cutDay: null, wellDays: [20] })).toBe('told');
    expect(status({ cutDay: null, wellDays: [50] })).toBe('too few photographs');
    expect(status({ cutDay: 40, wellDays: [] })).toBe('too few photographs');
    const later = followRack(shots);
    const judged = lighteningNow(
      later,
      later.lots.get('3') ?? [],
      { cutDay: null, wellDays: [50] },
      LIGHTENING,
    );
    expect(typeof judged === 'string' ? judged : Math.abs(judged.mean)).toBeLessThan(1.5);
  });

  // Fresh seeds; the whole measure is npm run bench:whiteness.
  it('tells 8 % of the way to white in two photographs, and hardly ever an unchanged lot', () => {
    let [found, of, falsely, lots] = [0, 0, 0, 0];
    for (let seed = 500_000_001; seed < 500_000_031; seed++) {
      const light = lights[seed % 2];
      if (light === undefined) throw new Error('no light');
      const world = { seed, lots: 16, light, every: 7, visits: 16, missing: 0.15 };
      const shots = whitenessWorld({ ...world, lighten: { from: 14, share: 0.08, lots: 2 } });
      const series = followRack(shots);
      for (let lot = 0; lot < 16; lot++) {
        if (!shots.slice(-2).every((shot) => shot.lots.has(String(lot)))) continue;
        const isTold = toldIn(series, String(lot)) === 'told';
        if (lot < 2) [found, of] = [found + (isTold ? 1 : 0), of + 1];
        else [falsely, lots] = [falsely + (isTold ? 1 : 0), lots + 1];
      }
    }
    expect(found / of).toBeGreaterThan(0.85);
    expect(falsely / lots).toBeLessThan(0.02);
  });
});
