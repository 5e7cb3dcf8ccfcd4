import type pg from 'pg';

/** A figure that is read when it is asked for: what it is called, what it means, and its values now. */
export interface Figure {
  /** Without the program's own name in front: "letters_waiting". Units as Prometheus names them (seconds, bytes). */
  name: string;
  help: string;
  values: { labels?: Readonly<Record<string, string>>; value: number | null }[];
}

/** Reads figures from the database; a fixed number of queries, whatever the farm's size. */
export type ReadFigures = (pool: pg.Pool, now: Date) => Promise<Figure[]>;

/** Seconds since something happened; null where it never did. */
export const secondsSince = (at: Date | null | undefined, now: Date): number | null =>
  at === null || at === undefined ? null : (now.getTime() - at.getTime()) / 1000;
