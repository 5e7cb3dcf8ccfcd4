import type pg from 'pg';
import { hourMs } from '../../science/numeric/time.ts';
import { fingerprintOf } from '../change.ts';
import { Refusal } from '../refusal.ts';
import { plural } from '../words/numbers.ts';
import { forgottenAfterH, networkOf, tryLimits } from './wrong-tries.rules.ts';

/** What is tried, and whose tries count together: those at one account, from one device, from one network. */
export interface Try {
  limit: keyof typeof tryLimits;
  who: string;
}

/** Tries from one network. */
export const triesFrom = (limit: 'address' | 'secret' | 'keptForm', ip: string): Try => ({
  limit,
  who: networkOf(ip),
});

const keyOf = ({ limit, who }: Try): string => fingerprintOf([limit, who]);

const forgotten = `(last_at < $2::timestamptz - interval '${forgottenAfterH} hours' OR last_at > $2::timestamptz + interval '1 hour')`;
// 1, 2, 4 ... seconds; twenty doublings are far beyond the longest pause.
const pause = `make_interval(secs => least($4::float8, power(2, least(tries - $3::int, 20))))`;

// Counted before the secret is looked at, in one statement: tries at the same moment, through whatever instance, wait for
// the row and see each other's count. A time to come is one that a clock left behind when it was set back.
const take = `
  INSERT INTO wrong_try AS kept (key, tries, last_at) VALUES ($1, 1, $2)
  ON CONFLICT (key) DO UPDATE
    SET tries = CASE WHEN ${forgotten.replaceAll('last_at', 'kept.last_at')} THEN 1 ELSE kept.tries + 1 END, last_at = $2
    WHERE kept.tries < $3::int OR ${forgotten.replaceAll('last_at', 'kept.last_at')}
       OR kept.last_at + ${pause.replaceAll('tries', 'kept.tries')} <= $2::timestamptz
  RETURNING tries`;

const waiting = `
  SELECT extract(epoch FROM last_at + ${pause} - $2::timestamptz)::float8 AS seconds FROM wrong_try WHERE key = $1`;

/**
 * Counts a try as wrong before it is known whether it is; `giveBack` takes that back for a right one.
 * @returns how many wrong tries it is in a row, should it be wrong
 * @throws Refusal 429 where too many wrong ones came before it, with the seconds to wait
 */
export async function takeTry(pool: pg.Pool, what: Try, now: Date): Promise<number> {
  const { free, longestPauseS } = tryLimits[what.limit];
  const values = [keyOf(what), now, free, longestPauseS];
  const [taken] = (await pool.query<{ tries: number }>(take, values)).rows;
  if (taken !== undefined) return taken.tries;
  const { rows } = await pool.query<{ seconds: number }>(waiting, values);
  throw tooManyTries(Math.max(1, Math.ceil(rows[0]?.seconds ?? 1)));
}

/** Takes back the count of a try that was right. */
export async function giveBack(pool: pg.Pool, what: Try): Promise<void> {
  await pool.query('UPDATE wrong_try SET tries = greatest(tries - 1, 0) WHERE key = $1', [keyOf(what)]);
}

/** Forgets the wrong tries: whoever made them has shown the right secret. */
export async function forgetTries(pool: pg.Pool, what: Try): Promise<void> {
  await pool.query('DELETE FROM wrong_try WHERE key = $1', [keyOf(what)]);
}

/** Removes what is forgotten. */
export async function sweepTries(pool: pg.Pool, now: Date): Promise<void> {
  await pool.query('DELETE FROM wrong_try WHERE last_at < $1', [
    new Date(now.getTime() - forgottenAfterH * hourMs),
  ]);
}

function tooManyTries(seconds: number): Refusal {
  const wait =
    seconds < 60
      ? plural(seconds, 'second', 'seconds')
      : plural(Math.ceil(seconds / 60), 'minute', 'minutes');
  return new Refusal(`Too many wrong tries. Wait ${wait}, then try again.`, {
    status: 429,
    retryAfterS: seconds,
  });
}
