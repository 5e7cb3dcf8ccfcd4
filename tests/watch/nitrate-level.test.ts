import { describe, expect, test } from 'vitest';
import { type KeptFact, type LotFact, type ReadingFact, unknownCare } from '../../src/watch/facts/types.ts';
import { nitrateLevel } from '../../src/watch/rules/nitrate/nitrate-level.ts';
import { nitrateRaised } from '../../src/watch/rules/nitrate/raised.ts';
import { calmWater, knownOn } from './calm-water.ts';
import { blankSystem, dayZero, find, firing, onDay, reading, waterChange } from './facts.ts';

// Edges of the trade: practice of growers, no source (5-10 mg/L welcome, trouble from 30-40).

const band = (
  bandLow: number | null,
  bandHigh: number | null,
  limitHigh: number | null = null,
): KeptFact => ({
  bandLow,
  bandHigh,
  limitHigh,
  makeUp: 0.5,
  source: 'house rule',
});

/** Weekly tests with a 10 % error that is a small wave here. */
const weekly = (level: (day: number) => number, days = 60) =>
  Array.from({ length: Math.ceil(days / 7) }, (_, i) => {
    const value = level(7 * i);
    return reading(7 * i, value * (1 + 0.03 * Math.sin(2.4 * i)), 0.1 * value);
  });
const belowDetection = (bound: number, days = 60) =>
  Array.from({ length: Math.ceil(days / 7) }, (_, i) => reading(7 * i, bound, bound / 2, { below: true }));

const system = (nitrate: readonly ReadingFact[], phosphate: readonly ReadingFact[] = [], more = {}) =>
  blankSystem({
    kept: new Map([['nitrate', band(1, 25, 30)]]),
    readings: new Map([
      ['nitrate', nitrate],
      ['phosphate', phosphate],
    ]),
    ...more,
  });

const at = (facts: ReturnType<typeof system>, day = 60) => firing(find(nitrateLevel, facts, day));

describe('the rule on nitrate’s level', () => {
  test('raises hardly a false alert in ordinary water', () => {
    const alerts = [700, 701, 702].flatMap((seed) => {
      const facts = calmWater(seed, 460);
      const days = Array.from({ length: 52 }, (_, i) => 95 + 7 * i);
      return days.filter((day) => firing(find(nitrateLevel, knownOn(facts, day), day)).length > 0);
    });
    expect(alerts).toEqual([]);
  });

  test.each([
    [29, 'watch'],
    [34, 'today'],
    [48, 'now'],
  ])('at %d mg/L, edge 25 and limit 30, it is urgent by its level', (level, severity) => {
    expect(at(system(weekly(() => level)))).toMatchObject([
      { facet: 'high', severity, title: 'Long run: nitrate is too high', limit: { text: '25.0' } },
    ]);
  });

  test('without edges of its own the practice of growers holds', () => {
    const bare = { kept: new Map() };
    expect(at(system(weekly(() => 29)))).toHaveLength(1);
    expect(
      at(
        system(
          weekly(() => 29),
          [],
          bare,
        ),
      ),
    ).toEqual([]);
    expect(
      at(
        system(
          weekly(() => 36),
          [],
          bare,
        ),
      )[0]?.limit.source,
    ).toContain('Practice of growers');
  });

  test('exports first, with changes that bring it down, and feeds less last; it lies under an open creep', () => {
    const changes = Array.from({ length: 8 }, (_, i) => waterChange(7 * i + 3, 0.1));
    const [finding] = at(
      system(
        weekly(() => 35),
        [],
        { changes },
      ),
    );
    expect(finding?.firstStep).toMatch(/^Export more: .*changes of 20 %.*Feed less only if it still rises/);
    expect(finding?.causes).toMatchObject([{ rule: 'nitrate-creep' }]);
    expect(at(system(weekly(() => 35)))[0]?.question).toContain('None is logged');
  });

  // A part f changed each time holds the level at what is made between two changes over f: 40 mg/L a week are over any part.
  test('changes that do not hold it are not asked for beside the habit, and what holds it is', () => {
    const asked = (share: number, made: number) => {
      const changes = Array.from({ length: 9 }, (_, i) => waterChange(7 * i, share));
      const [found] = at(
        system(
          weekly((day) => 30 + made * (day / 7)),
          [],
          { changes },
        ),
      );
      const acts = found?.advice.flatMap(({ acts: own }) => own.map(({ lever }) => lever)) ?? [];
      return { text: found?.firstStep ?? '', acts, changes: found?.changes ?? null };
    };
    const held = asked(0.1, 0);
    expect(held.acts).toEqual(['export', 'water']);
    expect(held.changes).not.toBeNull();
    const lost = asked(0.02, 40);
    expect(lost.text).toContain('Export more');
    expect(lost.acts).toEqual(['export']);
    expect(lost.changes).toBeNull();
  });

  test('one unconfirmed high reading asks for another', () => {
    const readings = [...weekly(() => 8), reading(60, 45, 4.5, { trust: 'unconfirmed' })];
    expect(at(system(readings))).toMatchObject([{ severity: 'watch' }]);
    expect(at(system(readings))[0]?.firstStep).toMatch(/^Test again/);
  });

  test('close to its edge it opens nothing and keeps what is open', () => {
    expect(find(nitrateLevel, system(weekly(() => 25)), 60)).toMatchObject([
      { facet: 'high', status: 'stays', title: 'Long run: nitrate is at its upper edge' },
    ]);
  });

  test('water below detection for weeks is starved: feed more first, then export less', () => {
    const [finding] = at(system(belowDetection(0.5)));
    expect(finding).toMatchObject({
      facet: 'starved',
      severity: 'watch',
      title: 'Long run: the water is starved of nitrate',
      numbers: '< 0.5 mg/L as NO₃, so since 1 Jan 2026 or earlier',
      figures: [{ text: '4 of 4 readings' }],
    });
    expect(finding?.firstStep).toMatch(/^Feed more first.*export less/);
    expect(at(system(belowDetection(2)))).toMatchObject([{ facet: 'starved' }]);
  });

  test('two weeks below detection are no state of their own', () => {
    const readings = [...weekly(() => 5, 46), ...belowDetection(0.5, 14).map((one) => shifted(one, 46))];
    expect(find(nitrateLevel, system(readings), 60)).toEqual([]);
  });

  test('pale stock makes starved water more urgent', () => {
    const paling = { id: 'c', day: dayZero + 55, at: '', state: 'paling', grade: 1, note: '' };
    const nitrate = { low: 1, high: 20, source: 'care library' };
    const care = { ...unknownCare, nitrate };
    const lots = [{ kindName: 'Acropora tenuis', care, conditions: [paling] }] as unknown as LotFact[];
    const [found] = at(system(belowDetection(0.5), [], { lots }));
    expect(found?.severity).toBe('today');
    // What it is kept at is said of the kinds that live there, and of no others.
    expect(found?.why).toMatch(/The care of Acropora tenuis here wants 1\.0 mg\/L as NO₃ to 20/);
    expect(found?.why).not.toMatch(/large-polyp/);
  });

  test('nitrate without phosphate for weeks is a pair of its own: phosphate comes back first', () => {
    const [finding, ...more] = at(
      system(
        weekly(() => 12),
        belowDetection(0.02),
      ),
    );
    expect(more).toEqual([]);
    expect(finding).toMatchObject({
      facet: 'no phosphorus',
      severity: 'today',
      title: 'Long run: nitrate without phosphate',
      numbers: expect.stringMatching(
        /^1[12]\.\d mg\/L as NO₃ nitrate; phosphate < 0\.020 mg\/L as PO₄, so since 1 Jan 2026 or earlier$/,
      ),
    });
    expect(finding?.firstStep).toMatch(/^Bring phosphate back before taking nitrate down/);
  });

  test('neither both scarce nor phosphate merely low is that pair', () => {
    const facets = (facts: ReturnType<typeof system>) => at(facts).map(({ facet }) => facet);
    expect(facets(system(belowDetection(0.5), belowDetection(0.02)))).toEqual(['starved']);
    const low = Array.from({ length: 9 }, (_, i) => reading(7 * i, 0.03 + 0.012 * Math.sin(2 * i), 0.012));
    expect(
      facets(
        system(
          weekly(() => 12),
          low,
        ),
      ),
    ).toEqual([]);
  });

  test('other rules can ask whether nitrate is raised', () => {
    expect(nitrateRaised(system(weekly(() => 40)), onDay(60))).toMatchObject({ edge: 25 });
    expect(nitrateRaised(system(weekly(() => 12)), onDay(60))).toBeNull();
    expect(nitrateRaised(system([]), onDay(60))).toBeNull();
  });
});

const shifted = (one: ReadingFact, days: number): ReadingFact => ({ ...one, day: one.day + days });
