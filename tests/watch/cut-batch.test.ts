import { describe, expect, test } from 'vitest';
import type { ConditionState } from '../../src/generated/prisma/enums.ts';
import type { LotFact, SystemFacts } from '../../src/watch/facts/types.ts';
import { conditionNoted } from '../../src/watch/rules/lots/condition-noted.ts';
import { cutBatch } from '../../src/watch/rules/lots/cut-batch.ts';
import { tissueLoss } from '../../src/watch/rules/lots/tissue-loss.ts';
import { blankLot, blankSystem, dayZero, find, firing, reading } from './facts.ts';
import { look } from './kinds.ts';

// What one day's cutting has in common, and that dead flesh comes off and the lot stands apart: common practice of growers.
// How soon after a cut it counts, and from which chance on, are own choices of this project.

const [cutOn, seenOn, today] = [30, 38, 39];

const lot = (n: number, state: ConditionState, cutDay: number | null, more: Partial<LotFact> = {}): LotFact =>
  blankLot({
    ...{ id: `lot ${n}`, code: `L-${n}`, cells: [{ row: 1 + 3 * n, column: 1 }], rackId: `rack ${n}` },
    conditions: [look(seenOn, state, state === 'well' ? null : 1), look(cutOn - 5, 'well')],
    cutDay: cutDay === null ? null : dayZero + cutDay,
    ...more,
  });

const kept = (bandLow: number, bandHigh: number) => ({
  ...{ bandLow, bandHigh, limitHigh: null, makeUp: null, source: 'made up' },
});

/** Twenty lots in water that is in order: the first so many lose flesh, the first four were cut on one day. */
const farm = (losing: readonly number[], more: Partial<SystemFacts> = {}): SystemFacts =>
  blankSystem({
    lots: Array.from({ length: 20 }, (_, n) =>
      lot(n, losing.includes(n) ? 'receding' : 'well', n < 4 ? cutOn + 0.01 * n : null),
    ),
    kept: new Map([
      ['nitrate', kept(2, 20)],
      ['alkalinity', kept(2.6, 3.4)],
    ]),
    readings: new Map([
      ['nitrate', [reading(today - 1, 8, 1)]],
      ['alkalinity', [reading(today - 1, 3, 0.04)]],
    ]),
    ...more,
  });

const told = (facts: SystemFacts) => firing(find(cutBatch, facts, today));

describe('lots of one cut that lose flesh', () => {
  test('are told together, by the day of the cut, with those of the cut that are to be looked at', () => {
    const [found] = told(farm([0, 1]));
    expect(found).toMatchObject({ severity: 'today', title: 'Long run: 2 lots of one cut lose flesh' });
    expect(found?.numbers).toBe('cut on 31 Jan 2026: 2 of 4 lots, and 0 of 16 others');
    expect(found?.lots).toEqual(['lot 0', 'lot 1']);
    expect(found?.firstStep).toMatch(
      /^Wear gloves and goggles.*water of its own today.*See to these cuts there/,
    );
  });

  test('the others of the cut that were looked at since are not asked for again', () => {
    const facts = farm([0, 1]);
    expect(told(facts)[0]?.firstStep).not.toContain('cut on the same day');
    const lots = facts.lots.map((one) =>
      one.id === 'lot 2' ? { ...one, conditions: [look(cutOn - 5, 'well')] } : one,
    );
    expect(told({ ...facts, lots })[0]?.firstStep).toContain('Look at L-2 too: cut on the same day.');
  });

  // Hypergeometric, worked out by hand: 2 of 20 fall into 4 by chance in 6/190 of cases; of 8 affected, 2 or more in 4 in 0.48.
  test('are no matter of the cut where as many others lose flesh', () => {
    expect(told(farm([0, 1]))).toHaveLength(1);
    expect(told(farm([0, 1, 6, 8, 10, 12, 14, 16]))).toEqual([]);
  });

  test('one lot by itself, or lots that lost flesh before they were cut, are no batch', () => {
    expect(told(farm([0]))).toEqual([]);
    const facts = farm([0, 1]);
    const before = facts.lots.map((one) =>
      one.id === 'lot 0'
        ? { ...one, conditions: [...one.conditions.slice(0, 1), look(cutOn - 5, 'receding', 1)] }
        : one,
    );
    expect(told({ ...facts, lots: before })).toEqual([]);
  });

  test('are told where another of the cut lost flesh before it, and all others do', () => {
    const facts = farm([0, 1, 2]);
    const [first, second, third, ...rest] = facts.lots as [LotFact, LotFact, LotFact, ...LotFact[]];
    const before = { ...third, conditions: [look(cutOn - 5, 'receding', 1)] };
    const ill = rest.map((one) => ({ ...one, conditions: [look(seenOn, 'receding', 1)] }));
    const small = { ...facts, lots: [first, second, before, ...ill.filter(({ cutDay }) => cutDay === null)] };
    expect(told(small)).toEqual([]);
    const [found] = told({ ...facts, lots: [first, second, before, ...rest] });
    expect(found?.numbers).toBe('cut on 31 Jan 2026: 2 of 4 lots, and 0 of 16 others');
  });

  test('are told anew while it is fresh; flesh that is gone is no new matter of the cut weeks later', () => {
    const later = (days: number) => find(cutBatch, farm([0, 1]), seenOn + days)[0]?.status;
    expect(later(13)).toBe('fires');
    expect(later(15)).toBe('stays');
  });

  test('one that was set apart since still counts, while another of the cut stands here', () => {
    const facts = farm([0, 1]);
    const [{ id, code, ownName, kindName, parentId, place, conditions, cutDay }] = facts.lots as [LotFact];
    const gone = {
      id,
      code,
      ownName,
      kindName,
      parentId,
      place,
      conditions,
      cutDay,
      leftDay: dayZero + seenOn,
    };
    const left = { ...facts, lots: facts.lots.slice(1), goneLots: [gone] };
    expect(told(left)[0]?.lots).toEqual(['lot 1']);
    expect(told({ ...left, lots: left.lots.slice(1) })).toEqual([]);
  });

  test('are one lot where the water is judged, and their own alerts are part of this one', () => {
    const facts = farm([0, 1]);
    expect(firing(find(tissueLoss, facts, today))).toEqual([]);
    expect(firing(find(tissueLoss, farm([0, 8]), today))).toHaveLength(1);
    const own = find(conditionNoted, facts, today);
    expect(own.map(({ causes: [first] }) => first?.rule)).toEqual(['cut-batch', 'cut-batch']);
  });

  test('by the numbers that the farm set', () => {
    expect(firing(find(cutBatch, farm([0, 1]), today, { within: 5 }))).toEqual([]);
    expect(firing(find(cutBatch, farm([0, 1]), today, { chance: 10 }))).toEqual([]);
  });
});

describe('one lot that loses flesh soon after its cut', () => {
  const steps = (facts: SystemFacts) => find(conditionNoted, facts, today)[0]?.firstStep ?? '';

  test('is seen to as a cut at once, with the others of the day, where the water is in order and no other loses flesh', () => {
    const facts = farm([0]);
    const unseen = facts.lots.map((one) =>
      ['lot 1', 'lot 2'].includes(one.id) ? { ...one, conditions: one.conditions.slice(1) } : one,
    );
    expect(steps({ ...facts, lots: unseen })).toMatch(
      /water of its own today.*Look at L-1 and L-2 too.*See to these cuts there/,
    );
  });

  test('is looked at as any other where others lose flesh, or the water is not known to be in order', () => {
    expect(steps(farm([0, 9]))).not.toContain('See to these cuts');
    expect(steps(farm([0], { readings: new Map() }))).toContain('Look at nitrate and alkalinity first.');
    expect(steps(farm([9]))).not.toContain('See to these cuts');
  });
});
