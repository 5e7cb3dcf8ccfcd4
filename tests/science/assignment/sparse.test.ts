import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SparseAssignment } from '../../../src/science/assignment/sparse.ts';
import { assign } from './dense.ts';

/** A table with some forbidden pairs; each row may also stay without at a price of its own. */
const tables = fc
  .tuple(fc.integer({ min: 1, max: 9 }), fc.integer({ min: 1, max: 9 }))
  .chain(([rows, columns]) =>
    fc.array(
      fc.array(fc.oneof({ weight: 3, arbitrary: fc.integer({ min: 0, max: 60 }) }, fc.constant(Infinity)), {
        minLength: columns,
        maxLength: columns,
      }),
      { minLength: rows, maxLength: rows },
    ),
  );
const NONE = 40;

const sparse = (cost: readonly (readonly number[])[]) => {
  const width = cost[0]?.length ?? 0;
  return cost.map((row, i) => {
    const columns = [...row.keys()].filter((column) => row[column] !== Infinity);
    return {
      columns: Int32Array.from([...columns, width + i]),
      costs: Float64Array.from([...columns.map((column) => row[column] as number), NONE]),
    };
  });
};

const costOf = (pairing: SparseAssignment, rows: ReturnType<typeof sparse>) =>
  rows.reduce(
    (sum, { columns, costs }, row) => sum + (costs[columns.indexOf(pairing.columnOf(row))] ?? NaN),
    0,
  );

describe('assignment by lists of possible columns', () => {
  it('costs as little as the assignment by a full table', () => {
    fc.assert(
      fc.property(tables, (cost) => {
        const rows = sparse(cost);
        const pairing = new SparseAssignment(rows, (cost[0]?.length ?? 0) + cost.length);
        for (const _ of pairing.steps());
        const whole = cost.map((row, i) => [...row, ...cost.map((_, k) => (k === i ? NONE : Infinity))]);
        expect(costOf(pairing, rows)).toBeCloseTo(assign(whole).cost, 9);
      }),
      { numRuns: 400, seed: 7 },
    );
  });

  it('gives each column to one row, and a row that nothing is left for goes without', () => {
    const rows = [0, 1, 2].map(() => ({ columns: Int32Array.of(0, 1), costs: Float64Array.of(1, 2) }));
    const pairing = new SparseAssignment(rows, 2);
    for (const _ of pairing.steps());
    expect([0, 1, 2].map((row) => pairing.columnOf(row)).sort()).toEqual([-1, 0, 1]);
  });
});
