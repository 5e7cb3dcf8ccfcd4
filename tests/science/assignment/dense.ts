import { inRange } from '../../../src/science/numeric/range.ts';

export interface Assignment {
  /** For each row the column it got, or null. */
  columns: (number | null)[];
  /** Sum of the costs of the pairs made. */
  cost: number;
  /** Rows left without a column, since all they could have were taken by better use or forbidden. */
  unassigned: number[];
}

/**
 * Pairs rows (lots) with columns (slots), each at most once: as many rows as can be paired at all, and of all such ways
 * the one of least total cost. The table may have more rows than columns or fewer; Infinity forbids a pair. Exact;
 * time grows with rows^2 x (rows + columns).
 *
 * Shortest augmenting paths with potentials: Kuhn 1955, Jonker & Volgenant 1987.
 *
 * @param cost rows of equal length; finite (negative allowed) or Infinity
 */
export function assign(cost: readonly (readonly number[])[]): Assignment {
  const width = cost[0]?.length ?? 0;
  const none = costOfNone(cost, width);
  const solver = new Paths(cost, width, none);
  for (let row = 0; row < cost.length; row++) solver.add(row);
  const columns = solver.columns().map((column) => (column !== null && column < width ? column : null));
  return {
    columns,
    cost: columns.reduce<number>(
      (sum, column, row) => sum + (column === null ? 0 : (cost[row]?.[column] ?? 0)),
      0,
    ),
    unassigned: columns.flatMap((column, row) => (column === null ? [row] : [])),
  };
}

/** Dearer than any saving that leaving a row out could bring. */
function costOfNone(cost: readonly (readonly number[])[], width: number): number {
  let [low, high] = [0, 0];
  for (const row of cost) {
    inRange(row.length, width, width, 'length of a row of costs');
    for (const value of row) {
      if (value === Infinity) continue;
      inRange(value, -1e12, 1e12, 'cost');
      low = Math.min(low, value);
      high = Math.max(high, value);
    }
  }
  return high + (high - low + 1) * (cost.length + 1);
}

/** Rows are added one by one; each row has a private column beyond the table that stands for "none". */
class Paths {
  readonly #cost: readonly (readonly number[])[];
  readonly #width: number;
  readonly #none: number;
  readonly #size: number;
  readonly #rowPotential: Float64Array;
  readonly #columnPotential: Float64Array;
  readonly #rowOf: Int32Array;

  constructor(cost: readonly (readonly number[])[], width: number, none: number) {
    this.#cost = cost;
    this.#width = width;
    this.#none = none;
    this.#size = width + cost.length;
    this.#rowPotential = new Float64Array(cost.length);
    this.#columnPotential = new Float64Array(this.#size);
    this.#rowOf = new Int32Array(this.#size).fill(-1);
  }

  /** Finds the cheapest path from the new row to a free column, and shifts all pairs along it. */
  add(row: number): void {
    const distance = new Float64Array(this.#size).fill(Infinity);
    const from = new Int32Array(this.#size).fill(-1);
    const done = new Uint8Array(this.#size);
    let [column, at, travelled] = [-1, row, 0];
    do {
      this.#reach(at, column, travelled, distance, from, done);
      column = nearest(distance, done);
      travelled = distance[column] ?? 0;
      done[column] = 1;
      at = this.#rowOf[column] ?? -1;
    } while (at >= 0);
    this.#reprice(row, travelled, distance, done);
    while (column >= 0) {
      const before = from[column] ?? -1;
      this.#rowOf[column] = before < 0 ? row : (this.#rowOf[before] ?? row);
      column = before;
    }
  }

  columns(): (number | null)[] {
    const columns: (number | null)[] = this.#cost.map(() => null);
    for (const [column, row] of this.#rowOf.entries()) if (row >= 0) columns[row] = column;
    return columns;
  }

  #reach(
    row: number,
    via: number,
    travelled: number,
    distance: Float64Array,
    from: Int32Array,
    done: Uint8Array,
  ) {
    const start = travelled - (this.#rowPotential[row] ?? 0);
    const consider = (column: number, cost: number) => {
      if (done[column]) return;
      const length = start + cost - (this.#columnPotential[column] ?? 0);
      if (length < (distance[column] ?? Infinity)) {
        distance[column] = length;
        from[column] = via;
      }
    };
    const costs = this.#cost[row] ?? [];
    for (let column = 0; column < this.#width; column++) consider(column, costs[column] ?? Infinity);
    consider(this.#width + row, this.#none);
  }

  #reprice(row: number, travelled: number, distance: Float64Array, done: Uint8Array): void {
    this.#rowPotential[row] = (this.#rowPotential[row] ?? 0) + travelled;
    for (let column = 0; column < this.#size; column++) {
      if (!done[column]) continue;
      const saved = travelled - (distance[column] ?? 0);
      this.#columnPotential[column] = (this.#columnPotential[column] ?? 0) - saved;
      const holder = this.#rowOf[column] ?? -1;
      if (holder >= 0) this.#rowPotential[holder] = (this.#rowPotential[holder] ?? 0) + saved;
    }
  }
}

function nearest(distance: Float64Array, done: Uint8Array): number {
  let best = -1;
  for (let column = 0; column < distance.length; column++) {
    if (done[column]) continue;
    if (best < 0 || (distance[column] ?? Infinity) < (distance[best] ?? Infinity)) best = column;
  }
  return best;
}
