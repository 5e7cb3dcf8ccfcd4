import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { IndexedProblem } from '../../src/racks/placement-solver/indexed-problem.rules.ts';
import {
  lotsToRelocate,
  NeighbourSeparation,
  UNPLACED_COST,
} from '../../src/racks/placement-solver/separate-neighbours.rules.ts';
import type { PlanLot, PlanSlot } from '../../src/racks/placement-solver/slot-fit.rules.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { lotOf, slotOf } from '../bench/placement/hall.ts';

/** Slots in one row, 80 mm apart. Pieces of 30 mm that reach 60 mm reach the next slot and no further. */
function row(count: number, slot: Partial<PlanSlot> = {}): PlanSlot[] {
  const random = seededRandom(1);
  return Array.from({ length: count }, (_, i) => ({
    ...slotOf(0, random),
    ...{ id: `s${i}`, row: 1, column: i + 1, x: i * 80, y: 0, jet: false },
    ...slot,
  }));
}

/** A lot of a kind by its letter, with the slot it takes now. */
function lot(kind: string, home: number | null): PlanLot {
  const base = lotOf(0, seededRandom(2), false, home === null ? [] : [`s${home}`]);
  return { ...base, id: `${kind} ${home}`, kindId: kind, sizeMm: 30, care: { ...base.care, reachMm: 60 } };
}

/** An arrangement of so many slots from each lot's slot; null: it stands nowhere. */
function arrange(slots: number, places: readonly (number | null)[]): Int32Array {
  const arrangement = new Int32Array(slots).fill(-1);
  for (const [i, slot] of places.entries()) if (slot !== null) arrangement[slot] = i;
  return arrangement;
}

interface Standing {
  kind: string;
  at: number;
  /** The slot it takes now; it moves where that is another one than `at`. */
  home?: number | null;
}

function relocated(lots: readonly Standing[], { movable = lots.map((_, i) => i), slot = {} } = {}): number[] {
  const slots = row(8, slot);
  const stock = lots.map(({ kind, at, home = at }) => lot(kind, home));
  const problem = new IndexedProblem({ lots: stock, slots });
  return [
    ...lotsToRelocate(
      problem,
      movable,
      arrange(
        8,
        lots.map(({ at }) => at),
      ),
    ),
  ].sort();
}

describe('which lots are relocated', () => {
  const kinds = (...names: string[]) => names.map((kind, at) => ({ kind, at }));

  test.each<[string, Standing[], number[]]>([
    ['none where nobody is in reach', [kinds('a')[0] as Standing, { kind: 'b', at: 2 }], []],
    ['none of one kind side by side', kinds('a', 'a', 'a'), []],
    ['the one between two of another kind', kinds('a', 'b', 'a'), [1]],
    [
      'the one that moves, not the one that stays in its slot',
      [
        { kind: 'a', at: 0 },
        { kind: 'b', at: 1, home: 7 },
      ],
      [1],
    ],
    [
      'the one that comes from nowhere, not the one that stays in its slot',
      [
        { kind: 'a', at: 0, home: null },
        { kind: 'b', at: 1 },
      ],
      [0],
    ],
    [
      'the one with more conflicts, even when the others move',
      [
        { kind: 'a', at: 0, home: 5 },
        { kind: 'b', at: 1 },
        { kind: 'c', at: 2, home: 7 },
      ],
      [1],
    ],
  ])('%s', (_, lots, expected) => {
    expect(relocated(lots)).toEqual(expected);
  });

  test('one of two is enough', () => {
    expect(relocated(kinds('a', 'b'))).toHaveLength(1);
  });

  test('conflicts with lots that may not move do not count', () => {
    expect(relocated(kinds('a', 'b'), { movable: [0] })).toEqual([]);
  });

  test('two lots that stay side by side are left alone where nobody entered the size of the slots', () => {
    const slot = { widthMm: null };
    expect(relocated(kinds('a', 'b'), { slot })).toEqual([]);
    const moving = [
      { kind: 'a', at: 0 },
      { kind: 'b', at: 1, home: 7 },
    ];
    expect(relocated(moving, { slot })).toEqual([1]);
  });

  test('the lots that remain are never in each other’s reach', () => {
    fc.assert(
      fc.property(fc.array(fc.constantFrom('a', 'b', 'c', null), { minLength: 2, maxLength: 8 }), (names) => {
        const lots = names.flatMap((kind, at) => (kind === null ? [] : [{ kind, at }]));
        const gone = relocated(lots);
        const left = lots.filter((_, i) => !gone.includes(i));
        for (const { kind, at } of left)
          expect(left.some((other) => other.at === at + 1 && other.kind !== kind)).toBe(false);
      }),
      { numRuns: 200, seed: 6 },
    );
  });
});

interface Movable {
  kind: string;
  home: number | null;
  at: number | null;
  /** The slots it can have, with their costs. */
  options: Record<number, number>;
}

/** Where each lot stands after the separation; null: nowhere. */
async function separated(lots: readonly Movable[], fixed: readonly Standing[] = []) {
  const slots = row(8);
  const stock = [...lots, ...fixed.map(({ kind, at }) => ({ kind, home: at }))];
  const problem = new IndexedProblem({ lots: stock.map(({ kind, home }) => lot(kind, home)), slots });
  const arrangement = arrange(8, [...lots.map(({ at }) => at), ...fixed.map(({ at }) => at)]);
  const options = new Map(
    lots.map(({ home, options: costs }, i) => {
      const unplaced = home === null ? { [8 + i]: UNPLACED_COST } : {};
      const all = Object.entries({ ...costs, ...unplaced });
      const columns = Int32Array.from(all, ([slot]) => Number(slot));
      return [i, { columns, costs: Float64Array.from(all, ([, cost]) => cost) }] as const;
    }),
  );
  await new NeighbourSeparation(problem, arrangement, options).run(() => undefined);
  return stock.map((_, i) => {
    const slot = arrangement.indexOf(i);
    return slot < 0 ? null : slot;
  });
}

describe('a lot in reach of another', () => {
  test('goes to the cheapest free slot out of reach of every other lot', async () => {
    const mover = { kind: 'b', home: null, at: 1, options: { 1: 0.5, 3: 0.8, 5: 0.6 } };
    const stands = { kind: 'a', home: 0, at: 0, options: { 0: 0 } };
    expect(await separated([stands, mover])).toEqual([0, 5]);
    // In slot 5 it would be in reach of another lot.
    expect(await separated([stands, mover], [{ kind: 'c', at: 6 }])).toEqual([0, 3, 6]);
  });

  test('goes to a dearer slot beside its own kind rather than to one that keeps others away', async () => {
    const mover = { kind: 'b', home: null, at: 6, options: { 1: 0.6, 4: 0.5, 6: 0.4 } };
    const stands = { kind: 'a', home: 7, at: 7, options: { 7: 0 } };
    expect(await separated([mover, stands], [{ kind: 'b', at: 0 }])).toEqual([1, 7, 0]);
  });

  test('displaces one that finds another slot, when it can go nowhere else', async () => {
    const mover = { kind: 'a', home: null, at: 1, options: { 1: 0.5 } };
    const stands = { kind: 'b', home: 2, at: 2, options: { 2: 0, 5: 0.7 } };
    expect(await separated([mover, stands])).toEqual([1, 5]);
  });

  test('stands nowhere, when there is no slot for it and nobody to displace', async () => {
    const mover = { kind: 'a', home: null, at: 1, options: { 1: 0.5 } };
    const stands = { kind: 'b', home: 2, at: 2, options: { 2: 0 } };
    expect(await separated([mover, stands])).toEqual([null, 2]);
  });

  test('keeps its present slot, when it finds no other, and the lot assigned to that slot keeps its own', async () => {
    const mover = { kind: 'a', home: 0, at: 2, options: { 0: UNPLACED_COST, 2: 0.5 } };
    const follower = { kind: 'b', home: 5, at: 0, options: { 0: 0.5, 5: UNPLACED_COST } };
    const stands = { kind: 'c', home: 3, at: 3, options: { 3: 0 } };
    expect(await separated([mover, follower, stands])).toEqual([0, 5, 3]);
  });
});
