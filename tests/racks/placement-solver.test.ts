import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { acceptedBases } from '../../src/racks/placement-solver/base-preference.rules.ts';
import { type LotMove, orderMoves } from '../../src/racks/placement-solver/move-order.rules.ts';
import {
  brokenLimits,
  LIMITS,
  MOVE_COST,
  mismatchCost,
  needsOf,
  OTHER_SYSTEM_COST,
  type PlanLot,
  type PlanSlot,
  tooLarge,
} from '../../src/racks/placement-solver/slot-fit.rules.ts';
import { brokenLimitsByLot, planPlacement } from '../../src/racks/placement-solver/solve.rules.ts';
import { brokenLimitWords } from '../../src/racks/placement-solver/words.rules.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { hall, lotOf, slotOf } from '../bench/placement/hall.ts';

const WRONG = 1000;

/** What it costs at least to have every lot somewhere or nowhere, by trying all arrangements. */
function bruteForce(lots: readonly PlanLot[], slots: readonly PlanSlot[]): number {
  const systemOf = new Map(slots.map((slot) => [slot.id, slot.systemId]));
  const price = (lot: PlanLot, slot: PlanSlot) => {
    const needs = needsOf(lot);
    if (lot.slotIds.includes(slot.id)) return brokenLimits(needs, slot, true) === 0 ? 0 : WRONG;
    if (!slot.open || brokenLimits(needs, slot, false) !== 0) return Infinity;
    const [home] = lot.slotIds;
    const water = home === undefined || systemOf.get(home) === slot.systemId ? 0 : OTHER_SYSTEM_COST;
    return MOVE_COST + water + mismatchCost(needs, slot);
  };
  const prices = lots.map((lot) => slots.map((slot) => price(lot, slot)));
  const least = (row: number, taken: number): number => {
    const lot = lots[row];
    if (lot === undefined) return 0;
    let best = lot.slotIds.length === 0 ? WRONG + least(row + 1, taken) : Infinity;
    for (let slot = 0; slot < slots.length; slot++) {
      const cost = prices[row]?.[slot] ?? Infinity;
      if ((taken & (1 << slot)) !== 0 || cost === Infinity) continue;
      best = Math.min(best, cost + least(row + 1, taken | (1 << slot)));
    }
    return best;
  };
  return least(0, 0);
}

async function costOf(lots: readonly PlanLot[], slots: readonly PlanSlot[]): Promise<number> {
  const plan = await planPlacement({ lots, slots });
  return lots.reduce((sum, lot, i) => {
    const at = [...plan.after.keys()].find((slot) => plan.after[slot] === i);
    if (at === undefined) return sum + WRONG;
    const slot = slots[at] as PlanSlot;
    if (lot.slotIds.includes(slot.id))
      return sum + (brokenLimits(needsOf(lot), slot, true) === 0 ? 0 : WRONG);
    const home = slots.find(({ id }) => lot.slotIds.includes(id));
    const water = home === undefined || home.systemId === slot.systemId ? 0 : OTHER_SYSTEM_COST;
    return sum + MOVE_COST + water + mismatchCost(needsOf(lot), slot);
  }, 0);
}

/** A small hall with everything mixed: quarantine, bases, sizes, lots that stay, racks that are closed or emptied. */
function mixed(seed: number, shape: { lots: number; slots: number; reach: boolean }) {
  const random = seededRandom(seed);
  const problem = hall({ ...shape, placed: random.uniform(), seed });
  const chance = (part: number) => random.uniform() < part;
  return {
    slots: problem.slots.map((slot) => ({
      ...slot,
      light: chance(0.05) ? null : slot.light,
      base: chance(0.2) ? ('sand' as const) : slot.base,
      quarantine: chance(0.1),
      open: !chance(0.1),
      emptied: chance(0.05),
    })),
    lots: problem.lots.map((lot) => ({
      ...lot,
      care: { ...lot.care, base: chance(0.3) ? 'Rock or egg-crate rather than fine sand' : null },
      quarantine: chance(0.1),
      sizeMm: chance(0.1) ? 95 : lot.sizeMm,
      part: chance(0.15) ? ('stays' as const) : chance(0.3) ? ('makes-way' as const) : ('chosen' as const),
    })),
  };
}

describe('placing lots', () => {
  test('costs as little as the best of all arrangements, for up to six lots and seven slots', async () => {
    for (let seed = 1; seed <= 120; seed++) {
      const random = seededRandom(seed);
      const [lots, slots] = [1 + random.below(6), 2 + random.below(6)];
      const problem = hall({
        lots: Math.min(lots, slots),
        slots,
        placed: random.uniform(),
        reach: false,
        seed,
        spread: true,
      });
      expect(await costOf(problem.lots, problem.slots)).toBeCloseTo(
        bruteForce(problem.lots, problem.slots),
        9,
      );
    }
  });

  test('never breaks a limit for a lot that moves, nor moves one that stays, nor uses a closed slot', async () => {
    await fc.assert(
      fc.asyncProperty(fc.integer({ min: 1, max: 1e6 }), fc.boolean(), async (seed, reach) => {
        const input = mixed(seed, { lots: 40, slots: 70, reach });
        const { problem, moves, after, before } = await planPlacement(input);
        for (const [lot, slots] of moves) {
          expect(problem.brokenLimitsWithNeighbours(lot, slots, after, false), problem.lot(lot).code).toBe(0);
          expect(problem.lot(lot).role).not.toBe('stays');
          expect(slots.every((slot) => problem.slot(slot).open)).toBe(true);
        }
        for (const [lot] of problem.lots.entries()) {
          const places = (arrangement: Int32Array) => arrangement.filter((one) => one === lot).length;
          const needed = problem.lot(lot).slotIds.length;
          if (needed > 0) expect(places(after)).toBe(needed);
          else expect([0, moves.get(lot)?.length ?? 0]).toContain(places(after));
        }
        expect(brokenLimitsByLot(problem, after).size).toBeLessThanOrEqual(
          brokenLimitsByLot(problem, before).size,
        );
      }),
      { numRuns: 80, seed: 3 },
    );
  });

  test('moves nothing when every lot stands well', async () => {
    const first = await planPlacement(hall({ lots: 30, slots: 90, placed: 0, reach: true, seed: 5 }));
    const stands = (lot: number) => (first.moves.get(lot) ?? []).map((slot) => first.problem.slot(slot).id);
    const lots = first.problem.lots
      .map((lot, i) => ({ ...lot, slotIds: stands(i) }))
      .filter((lot) => lot.slotIds.length > 0);
    expect(lots.length).toBeGreaterThan(15);
    const again = await planPlacement({ lots, slots: first.problem.slots });
    expect(again.moves.size).toBe(0);
  });

  test('a lot that stands well makes way only where a lot that stands wrong gains by it', async () => {
    const random = seededRandom(1);
    const dim = {
      ...slotOf(0, random),
      id: 'dim',
      light: { par: 60, error: 1, dli: 2 },
      flow: 1,
      jet: false,
    };
    const bright = { ...dim, id: 'bright', column: 2, light: { par: 90, error: 1, dli: 3 } };
    const tough = lotOf(0, random, false, ['dim']);
    const wide = {
      ...tough.care,
      parLow: 40,
      parHigh: 150,
      parCeiling: 200,
      accustomed: 2.9,
      flowLow: 1,
      flowHigh: 1,
    };
    const shy = {
      ...tough,
      id: 'shy',
      slotIds: ['bright'],
      care: { ...wide, parCeiling: 80, parHigh: 70, accustomed: 2 },
    };
    const lots = [{ ...tough, role: 'makes-way' as const, care: wide }, shy];
    const { moves } = await planPlacement({ lots, slots: [dim, bright] });
    expect([...moves].sort()).toEqual([
      [0, [1]],
      [1, [0]],
    ]);
  });

  test('a lot of several slots keeps its shape and goes where all of them suit', async () => {
    const input = hall({ lots: 1, slots: 480, placed: 0, reach: false, seed: 2 });
    const [lot] = input.lots as [PlanLot];
    const slots = input.slots.map((slot, i) => ({ ...slot, emptied: i < 20 }));
    const { moves, problem } = await planPlacement({
      lots: [{ ...lot, slotIds: ['slot 4', 'slot 5'] }],
      slots,
    });
    const went = (moves.get(0) ?? []).map((slot) => problem.slot(slot));
    expect(went).toHaveLength(2);
    expect(went[0]?.row).toBe(went[1]?.row);
    expect((went[1]?.column ?? 0) - (went[0]?.column ?? 0)).toBe(1);
    expect(went.every(({ emptied }) => !emptied)).toBe(true);
  });
});

describe('limits of a place', () => {
  const random = seededRandom(4);
  const slot = { ...slotOf(30, random), light: { par: 100, error: 10, dli: 3.24 }, flow: 2, jet: false };
  const care = {
    ...lotOf(0, random, false, []).care,
    parLow: 60,
    parHigh: 120,
    parCeiling: 150,
    stepRatio: 1.2,
  };
  const lot = (more: object) =>
    needsOf({
      ...lotOf(0, random, false, []),
      care: { ...care, flowLow: 1, flowHigh: 2, accustomed: 3.24, ...more },
    });

  test('count light with its standard error for a move, and without it where a lot stands', () => {
    expect(brokenLimits(lot({ parCeiling: 105 }), slot, false)).toBe(LIMITS.ceiling);
    expect(brokenLimits(lot({ parCeiling: 105 }), slot, true)).toBe(0);
    expect(brokenLimits(lot({ accustomed: 2.8 }), slot, false)).toBe(LIMITS.step);
    expect(brokenLimits(lot({ accustomed: 2.8 }), slot, true)).toBe(0);
  });

  test('call a place far too dim below four fifths of the range, unless the lot is used to no more', () => {
    const low = { ...slot, light: { par: 40, error: 1, dli: 1.3 } };
    expect(brokenLimits(lot({}), low, false)).toBe(LIMITS.dim);
    expect(brokenLimits(lot({ accustomed: 1.3 }), low, false)).toBe(0);
    // Measured yesterday for the first time: that it is used to no more is not known.
    expect(brokenLimits(lot({ accustomed: 1.3, isAccustomed: false }), low, false)).toBe(LIMITS.dim);
  });

  test('take light that was measured too shortly as the most to step up from, not as what it is used to', () => {
    const young = lot({ accustomed: 2.8, isAccustomed: false });
    const mask = brokenLimits(young, slot, false);
    expect(mask).toBe(LIMITS.step);
    const planLot = {
      ...lotOf(0, random, false, []),
      care: { ...care, accustomed: 2.8, isAccustomed: false },
    };
    expect(brokenLimitWords(mask, planLot, slot, [])).toEqual([
      'It gets 1.16 times the daily light measured for it so far (what it is used to is not known yet); its kind takes 1.2 times in one step.',
    ]);
  });

  test('are flow, jets, bases, quarantine and light that nobody measured', () => {
    expect(brokenLimits(lot({ flowHigh: 1 }), slot, false)).toBe(LIMITS.flow);
    expect(brokenLimits(lot({ jet: 'never on flesh' }), { ...slot, jet: true }, false)).toBe(LIMITS.jet);
    expect(brokenLimits(lot({ jet: 'tolerated' }), { ...slot, jet: true }, false)).toBe(0);
    expect(brokenLimits(lot({ base: 'Sand or coarse gravel, flat' }), slot, false)).toBe(LIMITS.base);
    expect(brokenLimits(lot({}), { ...slot, quarantine: true }, false)).toBe(LIMITS.quarantine);
    expect(brokenLimits(lot({}), { ...slot, light: null }, false)).toBe(LIMITS.unmeasured);
    expect(brokenLimits(lot({}), { ...slot, light: null }, true)).toBe(0);
    expect(brokenLimits(lot({}), { ...slot, emptied: true }, true)).toBe(LIMITS.emptied);
  });

  test('add up where several are broken', () => {
    const bad = { ...slot, jet: true, quarantine: true };
    expect(brokenLimits(lot({ jet: 'never on flesh', flowHigh: 1 }), bad, false)).toBe(
      LIMITS.flow | LIMITS.jet | LIMITS.quarantine,
    );
  });

  test.each([
    [80, 1, 1, false],
    [81, 1, 1, true],
    [150, 2, 1, true],
    [150, 2, 2, false],
    [161, 2, 2, true],
  ])('a piece of %d mm on %d by %d slots of 80 mm is too large: %s', (sizeMm, across, deep, expected) => {
    const needs = needsOf({ ...lotOf(0, random, false, []), sizeMm });
    expect(tooLarge(needs, { ...slot, widthMm: 80, depthMm: 80 }, across, deep)).toBe(expected);
    expect(tooLarge(needs, { ...slot, widthMm: null }, across, deep)).toBe(false);
  });
});

describe('how badly a slot suits a lot', () => {
  const random = seededRandom(4);
  const slot = { ...slotOf(30, random), light: { par: 100, error: 0, dli: 3.24 }, flow: 1, jet: false };
  const cost = (care: object, more: object = {}) => {
    const lot = lotOf(0, random, false, []);
    const usual = { parLow: 60, parHigh: 120, parCeiling: 150, flowLow: 1, flowHigh: 1, accustomed: 3.24 };
    return mismatchCost(needsOf({ ...lot, care: { ...lot.care, ...usual, ...care } }), { ...slot, ...more });
  };

  // Under these lamps 100 umol/(m2 s) give 3.24 mol/m² a day. The costs are own choices.
  test.each<[string, object, object, number]>([
    ['nothing at the light it is accustomed to', {}, {}, 0],
    ['the logarithm of twice that light', { accustomed: 1.62, parLow: 40 }, {}, Math.log(2)],
    ['as much for half that light', { accustomed: 6.48, parHigh: 300, parCeiling: 300 }, {}, Math.log(2)],
    ['the distance to its range, where it is accustomed to more', { accustomed: 6.48 }, {}, Math.log(1.2)],
    ['the distance to the low end, where nothing is known', { accustomed: null }, {}, Math.log(100 / 60)],
    ['as much where its light is known too shortly', { isAccustomed: false }, {}, Math.log(100 / 60)],
    ['half the relative error of the light', {}, { light: { par: 100, error: 10, dli: 3.24 } }, 0.05],
    ['a tenth for each class of flow from the middle', { flowHigh: 3 }, {}, 0.1],
    ['a little for a jet', {}, { jet: true }, 0.05],
    ['one where the light was never measured', {}, { light: null }, 1],
  ])('is %s', (_, care, more, expected) => {
    expect(cost(care, more)).toBeCloseTo(expected, 9);
  });
});

test.each([
  ['Rock or egg-crate rather than fine sand: grains in the valleys kill.', ['egg_crate', 'rock']],
  ['Egg-crate, rock or coarse sand; open brain corals may lie on sand.', ['egg_crate', 'rock', 'sand']],
  ['Sand, upright; it must not be wedged in rock.', ['sand']],
  ['Rock or rubble with grooves; it attaches by itself.', ['egg_crate', 'rock']],
  ['Upright and firm', null],
  [null, null],
])('the bases named in %j', (words, bases) => {
  expect(acceptedBases(words) === null ? null : [...(acceptedBases(words) ?? [])].sort()).toEqual(bases);
});

describe('the order of moves', () => {
  const slotsOf = (n: number) => Array.from({ length: n }, (_, i) => `s${i}`);

  test('finds each place free when its turn comes, whichever lots change places', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 12 }).chain((lots) =>
          fc.record({
            from: fc.shuffledSubarray(slotsOf(14), { minLength: lots, maxLength: lots }),
            to: fc.shuffledSubarray(slotsOf(14), { minLength: lots, maxLength: lots }),
            standing: fc.array(fc.boolean(), { minLength: lots, maxLength: lots }),
            canWait: fc.boolean(),
          }),
        ),
        ({ from, to, standing, canWait }) => {
          const ways: LotMove[] = to.map((slot, i) => ({
            lotId: `l${i}`,
            from: standing[i] === true ? [from[i] as string] : [],
            to: [slot],
          }));
          const taken = new Map(
            ways.flatMap(({ lotId, from: at }) => at.map((slot) => [slot, lotId] as const)),
          );
          const steps = orderMoves(ways, taken, (_, isFree) =>
            canWait ? (slotsOf(14).find(isFree) ?? null) : null,
          );
          const now = new Map(taken);
          const at = new Map(ways.map(({ lotId, from: slots }) => [lotId, slots]));
          for (const { lotId, slotIds } of steps) {
            for (const slot of at.get(lotId) ?? []) now.delete(slot);
            for (const slot of slotIds) {
              expect(now.has(slot), `${lotId} to ${slot}`).toBe(false);
              now.set(slot, lotId);
            }
            at.set(lotId, slotIds);
          }
          for (const way of ways) expect(at.get(way.lotId)).toEqual(way.to);
        },
      ),
      { numRuns: 300, seed: 9 },
    );
  });

  test('of two that change places one waits in a free slot, and without one is lifted out', () => {
    const ways = [
      { lotId: 'a', from: ['x'], to: ['y'] },
      { lotId: 'b', from: ['y'], to: ['x'] },
    ];
    const taken = new Map([
      ['x', 'a'],
      ['y', 'b'],
    ]);
    const how = (spare: string | null) =>
      orderMoves(ways, taken, () => spare).map((step) => [step.lotId, step.how, ...step.slotIds]);
    expect(how('z')).toEqual([
      ['b', 'waits', 'z'],
      ['a', 'moves', 'y'],
      ['b', 'moves', 'x'],
    ]);
    expect(how(null)).toEqual([
      ['b', 'lifted'],
      ['a', 'moves', 'y'],
      ['b', 'moves', 'x'],
    ]);
  });
});
