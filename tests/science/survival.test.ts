import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { chiSquareTail } from '../../src/science/statistics/chi-square.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { type Followed, kaplanMeier, logRank, lossScores, survivalAt } from '../../src/science/survival.ts';
import { num, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

const data = referenceTable('survival_6mp_data');
const arm = (group: string): Followed[] =>
  data
    .filter((row) => row.group === group)
    .map((row) => ({ time: num(row, 'weeks'), lost: row.relapse === '1' }));
const summary = (quantity: string) => {
  const row = referenceTable('survival_6mp_summary').find((r) => r.quantity === quantity);
  if (!row) throw new Error(`no ${quantity}`);
  return num(row, 'value');
};

describe('Kaplan-Meier of the 6-MP trial (Freireich et al. 1963)', () => {
  const printed = published(
    'Kaplan-Meier S, as printed',
    'Cox & Oakes 1984 Table 4.1, Klein & Moeschberger 2003 Table 4.1B',
    { absolute: 0.0005 },
  );
  const computed = published('Kaplan-Meier S, Greenwood error, log-log interval', 'R survival 3.5-3', {
    absolute: 5.1e-8,
  });

  it.each(['6-MP', 'placebo'])('%s', (group) => {
    const { steps } = kaplanMeier(arm(group));
    const rows = referenceTable('survival_6mp_kaplan_meier').filter((row) => row.group === group);
    expect(steps).toHaveLength(rows.length);
    for (const [i, row] of rows.entries()) {
      const step = steps[i];
      expect(step).toMatchObject({
        time: num(row, 'weeks'),
        atRisk: num(row, 'n_at_risk'),
        lost: num(row, 'events'),
      });
      computed.check(step?.survival ?? Number.NaN, num(row, 'S_computed'));
      if (row.S_published) {
        printed.check(step?.survival ?? Number.NaN, num(row, 'S_published'));
        printed.check(step?.se ?? Number.NaN, num(row, 'SE_Greenwood_published'));
      }
      if (!row.SE_computed) continue;
      computed.check(step?.se ?? Number.NaN, num(row, 'SE_computed'));
      computed.check(step?.low ?? Number.NaN, num(row, 'LCL95_loglog'));
      computed.check(step?.high ?? Number.NaN, num(row, 'UCL95_loglog'));
    }
  });

  it('has the medians, the upper limit not reached', () => {
    const treated = kaplanMeier(arm('6-MP')).median;
    expect(treated.time).toBe(summary('median weeks 6-MP'));
    expect(treated.high).toBeNull();
    // Where the log-log lower limit in the table first falls to a half.
    expect(treated.low).toBe(13);
    expect(kaplanMeier(arm('placebo')).median.time).toBe(summary('median weeks placebo'));
  });

  it('has no error or limits once all are lost', () => {
    const last = kaplanMeier(arm('placebo')).steps.at(-1);
    expect(last).toMatchObject({ survival: 0, se: null, low: null, high: null });
  });
});

describe('survival', () => {
  const piece = fc.record({ time: fc.integer({ min: 0, max: 40 }), lost: fc.boolean() });

  it('falls from 1, within its limits', () => {
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 40 }), (pieces) => {
        let before = 1;
        for (const { survival, low, high } of kaplanMeier(pieces).steps) {
          expect(survival).toBeLessThanOrEqual(before);
          if (low !== null && high !== null) {
            expect(low).toBeGreaterThanOrEqual(0);
            expect(low).toBeLessThanOrEqual(survival);
            expect(high).toBeGreaterThanOrEqual(survival);
            expect(high).toBeLessThanOrEqual(1);
          }
          before = survival;
        }
      }),
    );
  });

  it('is the plain share alive when all were followed to the end', () => {
    const pieces = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10].map((time) => ({ time, lost: time <= 6 }));
    expect(survivalAt(kaplanMeier(pieces), 6.5).survival).toBeCloseTo(0.4, 12);
    expect(survivalAt(kaplanMeier(pieces), 0.5)).toEqual({ survival: 1, low: null, high: null });
    expect(kaplanMeier([]).steps).toEqual([]);
    expect(() => kaplanMeier([{ time: -1, lost: true }])).toThrow('time followed -1 is outside');
  });
});

describe('log-rank test', () => {
  const trial = published('log-rank test of the 6-MP trial', 'R survival 3.5-3 survdiff', 1e-9);
  const three = published('log-rank test of three groups', 'its definition in numpy 2.4.6', 1e-9);

  it('has chi-square, p and expected relapses', () => {
    const test = logRank([arm('6-MP'), arm('placebo')]);
    trial.check(test.chiSquare, summary('log-rank chi-square (1 df)'));
    trial.check(test.p, summary('log-rank p'));
    for (const [i, group] of ['6-MP', 'placebo'].entries()) {
      trial.check(test.groups[i]?.observed ?? Number.NaN, summary(`observed relapses ${group}`));
      trial.check(test.groups[i]?.expected ?? Number.NaN, summary(`expected relapses ${group}`));
    }
  });

  it('has scores that add up, in each group, to its losses less those expected', () => {
    const arms = [arm('6-MP'), arm('placebo')];
    const scores = lossScores(arms.flat());
    const first = scores.slice(0, arms[0]?.length).reduce((sum, score) => sum + score, 0);
    trial.check(first, summary('observed relapses 6-MP') - summary('expected relapses 6-MP'));
    expect(scores.reduce((sum, score) => sum + score, 0)).toBeCloseTo(0, 9);
  });

  it('has the expected deaths of the leukaemia trial of Embury et al. 1977 (Miller 1981, p. 49)', () => {
    // survdiff(Surv(time, status) ~ x, data = aml), as public lessons of survival analysis print it.
    const printed = published(
      'log-rank test of the aml data, as printed',
      'R survival, survdiff, as printed in public lessons',
      {
        absolute: 0.05,
      },
    );
    const followed = (lost: number[], kept: number[]) => [
      ...lost.map((time) => ({ time, lost: true })),
      ...kept.map((time) => ({ time, lost: false })),
    ];
    const test = logRank([
      followed([9, 13, 18, 23, 31, 34, 48], [13, 28, 45, 161]),
      followed([5, 5, 8, 8, 12, 23, 27, 30, 33, 43, 45], [16]),
    ]);
    printed.check(test.groups[0]?.expected ?? Number.NaN, 10.69);
    printed.check(test.groups[1]?.expected ?? Number.NaN, 7.31);
    printed.check(test.chiSquare, 3.4);
    expect(test.p).toBeCloseTo(0.0653, 4);
  });

  it('compares more than two groups', () => {
    const half = (odd: number) =>
      data
        .filter((row) => row.group === '6-MP' && num(row, 'pair') % 2 === odd)
        .map((row) => ({ time: num(row, 'weeks'), lost: text(row, 'relapse') === '1' }));
    const test = logRank([half(0), half(1), arm('placebo')]);
    three.check(test.chiSquare, 16.840602081508074);
    expect(test.dof).toBe(2);
    expect(test.p).toBeCloseTo(Math.exp(-test.chiSquare / 2), 12);
    const turned = logRank([arm('placebo'), half(1), half(0)]);
    expect(turned.chiSquare).toBeCloseTo(test.chiSquare, 9);
  });

  it('finds no difference between a group and itself, or without losses', () => {
    expect(logRank([arm('6-MP'), arm('6-MP')]).chiSquare).toBeCloseTo(0, 9);
    const kept = [{ time: 5, lost: false }];
    expect(logRank([kept, kept])).toMatchObject({ chiSquare: 0, p: 1 });
    expect(() => logRank([kept])).toThrow('number of groups 1 is outside');
    expect(() => logRank([kept, []])).toThrow(/pieces in a group 0/);
  });

  it('sees a difference by chance about 1 time in 20', () => {
    const random = seededRandom(12);
    const group = () =>
      Array.from({ length: 30 }, () => ({
        time: -50 * Math.log(1 - random.uniform()),
        lost: random.uniform() < 0.7,
      }));
    let seen = 0;
    for (let i = 0; i < 400; i++) if (logRank([group(), group()]).p < 0.05) seen += 1;
    expect(seen).toBeGreaterThan(6);
    expect(seen).toBeLessThan(36);
  });
});

describe('chi-square', () => {
  const tails = published('chi-square tail', 'scipy 1.17.1 chi2.sf', 1e-10);

  it.each(
    referenceTable('chi_square_tail').map(
      (row) => [num(row, 'x'), num(row, 'dof'), num(row, 'tail')] as const,
    ),
  )('above %s with %s degrees of freedom', (x, dof, tail) => {
    tails.check(chiSquareTail(x, dof), tail);
  });

  it('starts at 1 and refuses nonsense', () => {
    expect([1, 2, 3, 4].map((dof) => chiSquareTail(0, dof))).toEqual([1, 1, 1, 1]);
    expect(() => chiSquareTail(-1, 2)).toThrow(RangeError);
    expect(() => chiSquareTail(1, 1.5)).toThrow(/not a whole number/);
  });
});
