/** What one row can have: columns with their costs (finite), each column once. */
export interface RowOptions {
  columns: Int32Array;
  costs: Float64Array;
}

/**
 * Pairs rows with columns, each at most once, at least total cost, where each row can have only some of the columns.
 * Exact. A row from which no path leads to a free column stays without: give each row
 * that may stay without a column of its own, at the price of that.
 *
 * Sparse shortest augmenting paths with potentials: Jonker & Volgenant 1987; Dijkstra's search with a binary heap.
 */
export class SparseAssignment {
  readonly #rows: readonly RowOptions[];
  readonly #rowPotential: Float64Array;
  readonly #columnPotential: Float64Array;
  readonly #rowOf: Int32Array;
  readonly #columnOf: Int32Array;
  readonly #distance: Float64Array;
  readonly #from: Int32Array;
  readonly #done: Uint8Array;

  /** @param width how many columns there are */
  constructor(rows: readonly RowOptions[], width: number) {
    this.#rows = rows;
    this.#rowPotential = new Float64Array(rows.length);
    this.#columnPotential = new Float64Array(width);
    this.#rowOf = new Int32Array(width).fill(-1);
    this.#columnOf = new Int32Array(rows.length).fill(-1);
    this.#distance = new Float64Array(width).fill(Number.POSITIVE_INFINITY);
    this.#from = new Int32Array(width).fill(-1);
    this.#done = new Uint8Array(width);
  }

  /** The column a row has, or -1. */
  columnOf(row: number): number {
    return this.#columnOf[row] ?? -1;
  }

  /** Pairs every row, one a step, so that others can have their turn in between. */
  *steps(): Generator<void> {
    for (let row = 0; row < this.#rows.length; row++) {
      this.#holdCheapest(row);
      yield;
    }
    for (let row = 0; row < this.#rows.length; row++) {
      if (this.#columnOf[row] !== -1) continue;
      this.#add(row);
      yield;
    }
  }

  /** A row whose cheapest column is free takes it without a search: with all column prices at nothing that is exact. */
  #holdCheapest(row: number): void {
    const { columns, costs } = this.#rows[row] as RowOptions;
    let best = -1;
    for (let i = 0; i < columns.length; i++) {
      if (best < 0 || (costs[i] as number) < (costs[best] as number)) best = i;
    }
    if (best < 0 || costs[best] === Number.POSITIVE_INFINITY) return;
    const column = columns[best] as number;
    this.#rowPotential[row] = costs[best] as number;
    if (this.#rowOf[column] !== -1) return;
    this.#rowOf[column] = row;
    this.#columnOf[row] = column;
  }

  /** Finds the cheapest path from a row to a free column, and shifts all pairs along it. */
  #add(row: number): void {
    const heap = new Heap();
    const reached: number[] = [];
    let [column, at, travelled] = [-1, row, 0];
    while (at >= 0) {
      this.#reach(at, column, travelled, heap, reached);
      column = this.#nearest(heap);
      if (column < 0) break;
      travelled = this.#distance[column] as number;
      this.#done[column] = 1;
      at = this.#rowOf[column] as number;
    }
    if (column >= 0) {
      this.#reprices(row, travelled, reached);
      this.#shift(row, column);
    }
    for (const one of reached) {
      this.#distance[one] = Number.POSITIVE_INFINITY;
      this.#done[one] = 0;
    }
  }

  #reach(row: number, via: number, travelled: number, heap: Heap, reached: number[]): void {
    const { columns, costs } = this.#rows[row] as RowOptions;
    const start = travelled - (this.#rowPotential[row] as number);
    for (let i = 0; i < columns.length; i++) {
      const column = columns[i] as number;
      if (this.#done[column] === 1) continue;
      const length = start + (costs[i] as number) - (this.#columnPotential[column] as number);
      const known = this.#distance[column] as number;
      if (length >= known) continue;
      if (known === Number.POSITIVE_INFINITY) reached.push(column);
      this.#distance[column] = length;
      this.#from[column] = via;
      heap.push(length, column);
    }
  }

  #nearest(heap: Heap): number {
    for (let column = heap.pop(); column >= 0; column = heap.pop()) {
      if (this.#done[column] === 0) return column;
    }
    return -1;
  }

  #reprices(row: number, travelled: number, reached: readonly number[]): void {
    this.#rowPotential[row] = (this.#rowPotential[row] as number) + travelled;
    for (const column of reached) {
      if (this.#done[column] === 0) continue;
      const saved = travelled - (this.#distance[column] as number);
      this.#columnPotential[column] = (this.#columnPotential[column] as number) - saved;
      const holder = this.#rowOf[column] as number;
      if (holder >= 0) this.#rowPotential[holder] = (this.#rowPotential[holder] as number) + saved;
    }
  }

  #shift(row: number, end: number): void {
    for (let column = end; column >= 0; ) {
      const before = this.#from[column] as number;
      const holder = before < 0 ? row : (this.#rowOf[before] as number);
      this.#rowOf[column] = holder;
      this.#columnOf[holder] = column;
      column = before;
    }
  }
}

/** A binary heap of columns by distance; a column whose distance fell is there twice, and skipped the second time. */
class Heap {
  readonly #keys: number[] = [];
  readonly #values: number[] = [];

  push(key: number, value: number): void {
    let at = this.#keys.length;
    while (at > 0) {
      const up = (at - 1) >> 1;
      if ((this.#keys[up] as number) <= key) break;
      this.#set(at, this.#keys[up] as number, this.#values[up] as number);
      at = up;
    }
    this.#set(at, key, value);
  }

  /** The nearest column, or -1 when none is left. */
  pop(): number {
    const [first] = this.#values;
    const key = this.#keys.pop();
    const value = this.#values.pop();
    if (first === undefined || key === undefined || value === undefined) return -1;
    if (this.#keys.length > 0) this.#sink(key, value);
    return first;
  }

  #sink(key: number, value: number): void {
    const size = this.#keys.length;
    let at = 0;
    for (;;) {
      let child = 2 * at + 1;
      if (child >= size) break;
      if (child + 1 < size && (this.#keys[child + 1] as number) < (this.#keys[child] as number)) child++;
      if ((this.#keys[child] as number) >= key) break;
      this.#set(at, this.#keys[child] as number, this.#values[child] as number);
      at = child;
    }
    this.#set(at, key, value);
  }

  #set(at: number, key: number, value: number): void {
    this.#keys[at] = key;
    this.#values[at] = value;
  }
}
