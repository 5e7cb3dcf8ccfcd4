import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { num, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';
import { assign } from './dense.ts';

/** Best number of pairs, then least cost, by trying all ways. */
function bruteForce(cost: number[][], row = 0, taken = new Set<number>()): { pairs: number; cost: number } {
  if (row === cost.length) return { pairs: 0, cost: 0 };
  let best = bruteForce(cost, row + 1, taken);
  for (const [column, value] of (cost[row] ?? []).entries()) {
    if (value === Infinity || taken.has(column)) continue;
    const rest = bruteForce(cost, row + 1, new Set([...taken, column]));
    const way = { pairs: rest.pairs + 1, cost: rest.cost + value };
    if (way.pairs > best.pairs || (way.pairs === best.pairs && way.cost < best.cost)) best = way;
  }
  return best;
}

const tableOf = (value: fc.Arbitrary<number>) =>
  fc.tuple(fc.integer({ min: 1, max: 5 }), fc.integer({ min: 1, max: 5 })).chain(([rows, columns]) =>
    fc.array(fc.array(value, { minLength: columns, maxLength: columns }), {
      minLength: rows,
      maxLength: rows,
    }),
  );

describe('assignment', () => {
  const scipy = published('least total cost of an assignment', 'scipy 1.17.1 linear_sum_assignment', 1e-12);

  it.each(
    referenceTable('assign_expected').map(
      (row) => [num(row, 'rows'), num(row, 'columns'), num(row, 'forbidden'), row] as const,
    ),
  )('of %s rows to %s columns with %s forbidden pairs', (_, columns, __, row) => {
    const cells = text(row, 'table')
      .split(' ')
      .map((cell) => (cell === 'x' ? Infinity : Number(cell)));
    const cost = Array.from({ length: num(row, 'rows') }, (_, i) =>
      cells.slice(i * columns, (i + 1) * columns),
    );
    const result = assign(cost);
    scipy.check(result.cost, num(row, 'cost'));
    scipy.check(cost.length - result.unassigned.length, num(row, 'pairs'));
  });

  it('is the best of all ways, forbidden pairs, ties and negative costs included', () => {
    const value = fc.oneof(fc.integer({ min: -5, max: 9 }), fc.constant(Infinity));
    fc.assert(
      fc.property(tableOf(value), (cost) => {
        const { columns, cost: total, unassigned } = assign(cost);
        const best = bruteForce(cost);
        expect(columns.filter((c) => c !== null)).toHaveLength(best.pairs);
        expect(total).toBeCloseTo(best.cost, 9);
        expect(unassigned).toEqual(columns.flatMap((c, row) => (c === null ? [row] : [])));
      }),
      { numRuns: 300 },
    );
  });

  it('gives no column twice and no forbidden pair', () => {
    const value = fc.oneof(
      { weight: 3, arbitrary: fc.double({ min: 0, max: 1, noNaN: true }) },
      fc.constant(Infinity),
    );
    fc.assert(
      fc.property(tableOf(value), (cost) => {
        const { columns } = assign(cost);
        const taken = columns.filter((c) => c !== null);
        expect(new Set(taken).size).toBe(taken.length);
        for (const [row, column] of columns.entries())
          if (column !== null) expect(cost[row]?.[column]).not.toBe(Infinity);
      }),
    );
  });

  it('pairs as many as can be paired before it looks at cost', () => {
    expect(
      assign([
        [1, 1000],
        [1, Infinity],
      ]),
    ).toEqual({ columns: [1, 0], cost: 1001, unassigned: [] });
    expect(assign([[5], [3], [4]])).toEqual({ columns: [null, 0, null], cost: 3, unassigned: [0, 2] });
    expect(assign([[Infinity], [2]])).toEqual({ columns: [null, 0], cost: 2, unassigned: [0] });
  });

  it('has the cost of the worked example in scipy’s documentation', () => {
    expect(
      assign([
        [4, 1, 3],
        [2, 0, 5],
        [3, 2, 2],
      ]),
    ).toEqual({ columns: [1, 0, 2], cost: 5, unassigned: [] });
  });

  it('takes empty tables and refuses broken ones', () => {
    expect(assign([])).toEqual({ columns: [], cost: 0, unassigned: [] });
    expect(assign([[], []])).toEqual({ columns: [null, null], cost: 0, unassigned: [0, 1] });
    expect(() => assign([[1, 2], [1]])).toThrow('length of a row of costs 1 is outside 2 to 2');
    expect(() => assign([[Number.NaN]])).toThrow('cost NaN is outside');
  });
});
