import type pg from 'pg';
import { type Mark, MarkReader } from './marks.ts';

/** What was read for a key, and what its reading missed meanwhile. */
interface Loading {
  marks: Mark[];
  dropped: boolean;
}

/** Something kept, and which marks say that it may hold no longer. */
export interface Keeping<T> {
  isStale(key: string, value: T, mark: Mark): boolean;
  /** Keys at most; those asked for longest ago go first. */
  most: number;
}

/**
 * What pages ask for again and again and what is dear to read. It is kept in this process until a transaction, of any
 * instance, marks a change of what it was worked out from. Marks are read before each answer, so an answer shows every change
 * committed before it was asked for. What was read while a change was marked is given, but not kept.
 */
export class KeptByMarks<T> {
  readonly #pool: pg.Pool;
  readonly #keeping: Keeping<T>;
  readonly #marks = new MarkReader();
  readonly #kept = new Map<string, T>();
  readonly #loadings = new Set<Loading>();
  #asking: Promise<void> | null = null;
  #asked: Promise<void> | null = null;

  constructor(pool: pg.Pool, keeping: Keeping<T>) {
    this.#pool = pool;
    this.#keeping = keeping;
  }

  /**
   * The values of keys, in their order.
   * @param load reads what is not kept
   * @param serves whether what is kept of a key serves who asks; all does unless said
   */
  async of(
    keys: readonly string[],
    load: (missing: readonly string[]) => Promise<ReadonlyMap<string, T>>,
    serves: (value: T) => boolean = () => true,
  ): Promise<Map<string, T>> {
    await this.#follow();
    const found = new Map<string, T>();
    for (const key of new Set(keys)) {
      const value = this.#kept.get(key);
      if (value === undefined || !serves(value)) continue;
      this.#keep(key, value);
      found.set(key, value);
    }
    const missing = [...new Set(keys)].filter((key) => !found.has(key));
    const loaded = missing.length === 0 ? new Map<string, T>() : await this.#load(missing, load);
    return new Map(
      keys.flatMap((key): [string, T][] => {
        const value = found.get(key) ?? loaded.get(key);
        return value === undefined ? [] : [[key, value]];
      }),
    );
  }

  async #load(
    missing: readonly string[],
    load: (missing: readonly string[]) => Promise<ReadonlyMap<string, T>>,
  ) {
    const loading: Loading = { marks: [], dropped: false };
    this.#loadings.add(loading);
    try {
      const loaded = await load(missing);
      if (!loading.dropped)
        for (const [key, value] of loaded)
          if (!loading.marks.some((mark) => this.#keeping.isStale(key, value, mark))) this.#keep(key, value);
      return loaded;
    } finally {
      this.#loadings.delete(loading);
    }
  }

  #keep(key: string, value: T): void {
    this.#kept.delete(key);
    this.#kept.set(key, value);
    for (const [oldest] of this.#kept) {
      if (this.#kept.size <= this.#keeping.most) return;
      this.#kept.delete(oldest);
    }
  }

  /** Asks for marks after this was called: an asking under way may have begun before the change that the caller knows of. */
  #follow(): Promise<void> {
    if (this.#asking === null) return this.#ask();
    this.#asked ??= this.#asking
      .catch(() => undefined)
      .then(() => {
        this.#asked = null;
        return this.#ask();
      });
    return this.#asked;
  }

  #ask(): Promise<void> {
    const asking = this.#drop().finally(() => {
      if (this.#asking === asking) this.#asking = null;
    });
    this.#asking = asking;
    return asking;
  }

  async #drop(): Promise<void> {
    const news = await this.#marks.news(this.#pool);
    if (news === null) this.#kept.clear();
    for (const loading of this.#loadings) {
      loading.marks.push(...(news ?? []));
      loading.dropped ||= news === null;
    }
    for (const [key, value] of this.#kept)
      if (news?.some((mark) => this.#keeping.isStale(key, value, mark))) this.#kept.delete(key);
  }
}
