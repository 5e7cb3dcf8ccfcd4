import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { bernoulliLogRatio, exactTest, type Member, scanGroups } from '../../src/science/scan.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { num, type Row, referenceTable } from '../support/csv.ts';
import { published } from '../support/published.ts';

const splitOf = (row: Row) => ({
  affectedIn: num(row, 'affected_in'),
  totalIn: num(row, 'total_in'),
  affectedOut: num(row, 'affected_out'),
  totalOut: num(row, 'total_out'),
});

const split = fc
  .tuple(fc.nat(30), fc.nat(30), fc.nat(30), fc.nat(30))
  .map(([a, b, c, d]) => ({ affectedIn: a, totalIn: a + b, affectedOut: c, totalOut: c + d }));

describe('exact test of one group', () => {
  const fisher = published('hypergeometric and Fisher exact p', 'R 4.2.2 phyper and fisher.test', 1e-9);

  it.each(referenceTable('exact_hypergeometric').map((row) => [JSON.stringify(splitOf(row)), row] as const))(
    '%s',
    (_, row) => {
      const { greater, twoSided } = exactTest(splitOf(row));
      fisher.check(greater, num(row, 'p_greater'));
      fisher.check(twoSided, num(row, 'p_two_sided'));
    },
  );

  it('has Fisher’s tea tasting: 4 of 4 cups of milk first, 1 in 70 (Fisher 1935)', () => {
    const p = exactTest({ affectedIn: 4, totalIn: 4, affectedOut: 0, totalOut: 4 });
    expect(p.greater).toBeCloseTo(1 / 70, 12);
    expect(p.twoSided).toBeCloseTo(2 / 70, 12);
  });

  it('is a probability, and the same seen from outside', () => {
    fc.assert(
      fc.property(split, (s) => {
        const { greater, twoSided } = exactTest(s);
        expect(greater).toBeGreaterThan(0);
        expect(Math.max(greater, twoSided)).toBeLessThanOrEqual(1);
        const turned = {
          affectedIn: s.affectedOut,
          totalIn: s.totalOut,
          affectedOut: s.affectedIn,
          totalOut: s.totalIn,
        };
        expect(exactTest(turned).twoSided).toBeCloseTo(twoSided, 9);
      }),
    );
  });

  it('refuses counts that cannot be', () => {
    expect(() => exactTest({ affectedIn: 5, totalIn: 4, affectedOut: 0, totalOut: 1 })).toThrow(
      'affected in the group 5 is outside 0 to 4',
    );
    expect(() => exactTest({ affectedIn: 0.5, totalIn: 4, affectedOut: 0, totalOut: 1 })).toThrow(
      /not a whole number/,
    );
  });
});

describe('log likelihood ratio of one group', () => {
  const ratio = published(
    'Kulldorff’s Bernoulli log likelihood ratio',
    'Kulldorff 1997, evaluated in R 4.2.2',
    1e-9,
  );

  it.each(referenceTable('scan_bernoulli_llr').map((row) => [JSON.stringify(splitOf(row)), row] as const))(
    '%s',
    (_, row) => ratio.check(bernoulliLogRatio(splitOf(row)), num(row, 'llr')),
  );

  it('is 0 or above, and 0 where the group is not the worse', () => {
    fc.assert(
      fc.property(split, (s) => {
        const value = bernoulliLogRatio(s);
        expect(value).toBeGreaterThanOrEqual(-1e-9);
        if (s.totalIn * s.totalOut === 0 || s.affectedIn / s.totalIn <= s.affectedOut / s.totalOut)
          expect(value).toBe(0);
      }),
    );
  });
});

describe('the outbreak after a church supper (CDC case study 401-303, Oswego 1940)', () => {
  const people = referenceTable('scan_oswego');
  const foods = Object.keys(people[0] ?? {}).slice(2);
  const said: Record<string, string> = { Y: 'eaten', N: 'not eaten' };
  const scan = scanGroups(
    people.map((row) => ({
      affected: row.ill === 'Y',
      groups: Object.fromEntries(foods.map((food) => [food, said[row[food] ?? ''] ?? null])),
    })),
  );
  const printed = published('attack rates of Oswego, as printed', 'CDC case study 401-303', {
    absolute: 0.0005,
  });

  it('is laid to the vanilla ice cream: 79.6 % of those who ate it were ill, 14.3 % of those who did not', () => {
    const { best } = scan;
    expect(best).toMatchObject({
      by: 'vanilla_ice_cream',
      name: 'eaten',
      affectedIn: 43,
      totalIn: 54,
      same: [],
    });
    printed.check((best?.affectedIn ?? 0) / (best?.totalIn ?? 1), 0.796);
    printed.check((best?.affectedOut ?? 0) / (best?.totalOut ?? 1), 0.143);
    expect(best?.p).toBe(0.001);
    // Fisher's exact test, one-sided: scipy 1.17.1, fisher_exact.
    expect(best?.pAlone).toBeCloseTo(2.5974506918e-7, 15);
  });

  it('and to none of the other thirteen foods', () => {
    const others = scan.clusters.filter(({ by }) => by !== 'vanilla_ice_cream');
    expect(others.length).toBeGreaterThan(10);
    expect(Math.min(...others.map(({ p }) => p))).toBeGreaterThan(0.05);
  });
});

describe('the scan', () => {
  /** 60 lots on 6 racks in 2 tanks, of 3 kinds. */
  const lots = (affected: (rack: number, i: number) => boolean): Member[] =>
    Array.from({ length: 60 }, (_, i) => {
      const rack = i % 6;
      return {
        affected: affected(rack, i),
        groups: { rack: `R${rack}`, tank: `T${rack < 3 ? 1 : 2}`, kind: `K${Math.floor(i / 20)}`, cut: null },
      };
    });

  it('finds the rack on which the affected stand', () => {
    const { best, affected, total, clusters } = scanGroups(lots((rack, i) => rack === 4 && i !== 4));
    expect(best).toMatchObject({
      by: 'rack',
      name: 'R4',
      affectedIn: 9,
      totalIn: 10,
      affectedOut: 0,
      totalOut: 50,
    });
    expect(best?.p).toBe(0.001);
    expect([affected, total]).toEqual([9, 60]);
    expect(clusters.map(({ name }) => name)).toContain('T2');
    expect(clusters.every((c, i) => i === 0 || c.logRatio <= (clusters[i - 1]?.logRatio ?? 0))).toBe(true);
  });

  it('says that no grouping stands out when the affected are spread', () => {
    const scan = scanGroups(lots((_, i) => i % 13 === 0));
    expect(scan.best).toBeNull();
  });

  it('names groups of the same members together', () => {
    const members = lots((rack) => rack === 2).map((m) => ({
      ...m,
      groups: { ...m.groups, lamp: m.groups.rack === 'R2' ? 'L9' : 'L1' },
    }));
    const { best } = scanGroups(members);
    expect([{ by: best?.by, name: best?.name }, ...(best?.same ?? [])]).toEqual([
      { by: 'rack', name: 'R2' },
      { by: 'lamp', name: 'L9' },
    ]);
  });

  it('allows for all groups it searched: p is above that of the group alone', () => {
    const { clusters } = scanGroups(lots((rack, i) => rack === 1 && i < 25));
    expect(clusters[0]?.p).toBeGreaterThan(clusters[0]?.pAlone ?? 1);
  });

  it('has the p of all orders when there is one way of grouping (exact enumeration)', () => {
    // 3 affected of 8, two groups of 4; as strong: all three in one group, 2 x C(4,3) of C(8,3) = 8/56.
    const members = Array.from({ length: 8 }, (_, i) => ({
      affected: i < 3,
      groups: { side: i < 4 ? 'a' : 'b' },
    }));
    const { clusters } = scanGroups(members, { orders: 19_999 });
    expect(clusters[0]?.p).toBeCloseTo(8 / 56, 2);
  });

  it('cries wolf in at most 1 of 20 farms where nothing is wrong', () => {
    const random = seededRandom(8);
    let cries = 0;
    for (let farm = 0; farm < 200; farm++) {
      const members = lots(() => random.uniform() < 0.2);
      if (scanGroups(members, { orders: 199, seed: farm }).best) cries += 1;
    }
    expect(cries).toBeLessThan(20);
  });

  it('gives the same answer for the same seed', () => {
    const members = lots((rack, i) => rack === 3 && i % 4 > 0);
    expect(scanGroups(members, { seed: 5 })).toEqual(scanGroups(members, { seed: 5 }));
  });

  it('has nothing to find without affected members, or when all are', () => {
    expect(scanGroups(lots(() => false)).best).toBeNull();
    expect(scanGroups(lots(() => true)).best).toBeNull();
    expect(scanGroups([])).toEqual({ clusters: [], best: null, affected: 0, total: 0 });
    expect(() => scanGroups([], { orders: 3 })).toThrow(/number of random orders 3 is outside/);
  });
});
