import { dayMs } from '../../science/numeric/time.ts';

/** How many values of a name were taken on a day, how many were impossible. */
export interface DayCount {
  name: string;
  /** A UTC day, 2026-11-24. */
  day: string;
  taken: number;
  rejected: number;
  /** The last impossible value as it came; empty where there was none. */
  refused: string;
}

/** Counts what came under names by day. Times are Unix times in ms. */
export class DayCounts {
  readonly #byName = new Map<string, Map<number, DayCount>>();

  take(name: string, at: number): void {
    this.#of(name, at).taken += 1;
  }

  reject(name: string, at: number, value: number): void {
    const count = this.#of(name, at);
    count.rejected += 1;
    count.refused = String(value);
  }

  /** In the order of names and days, so that two who write them never wait for each other in a circle. */
  rows(): DayCount[] {
    const all = [...this.#byName.values()].flatMap((days) => [...days.values()]);
    return all.sort((a, b) => (a.name === b.name ? order(a.day, b.day) : order(a.name, b.name)));
  }

  #of(name: string, at: number): DayCount {
    const day = Math.floor(at / dayMs);
    const days = this.#byName.get(name) ?? new Map<number, DayCount>();
    if (days.size === 0) this.#byName.set(name, days);
    const count = days.get(day) ?? emptyCount(name, new Date(day * dayMs));
    days.set(day, count);
    return count;
  }
}

const emptyCount = (name: string, day: Date): DayCount => ({
  name,
  day: day.toISOString().slice(0, 10),
  ...{ taken: 0, rejected: 0, refused: '' },
});

const order = (a: string, b: string) => Number(a > b) - Number(a < b);
