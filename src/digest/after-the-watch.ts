import type pg from 'pg';
import { missedTheHour } from '../alerts/gaps/gaps.ts';
import { minuteMs } from '../science/numeric/time.ts';

/** A digest waits so long for the watch and no longer; own choice: a look takes a minute, and a morning without news is worse. */
const patienceMs = 10 * minuteMs;

/**
 * Whether the digest can be made: after an outage it waits for the first look of the watch, since what is urgent by then stands in
 * no alert before. Each call of the result is one look at the clock. One query.
 */
export function afterTheWatch(): (pool: pg.Pool, now: Date) => Promise<boolean> {
  let waitsSince: Date | null = null;
  return async (pool, now) => {
    if (!(await missedTheHour(pool, now))) {
      waitsSince = null;
      return true;
    }
    waitsSince ??= now;
    return now.getTime() - waitsSince.getTime() >= patienceMs;
  };
}
