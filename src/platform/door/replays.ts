import type pg from 'pg';
import { Refusal } from '../refusal.ts';

/** How long an idempotency key is known: a program that repeats a request later makes it anew. Own choice. */
export const keptDays = 90;

/** An answer as it was given under an idempotency key. */
export interface Answered {
  status: number;
  body: string;
}

interface Asked {
  key: string;
  accountId: string | null;
  fingerprint: string;
}

/**
 * The answer that was given to the same request before; null where there was none, or it was not kept.
 * @throws Refusal 422 where the key stood for another request
 */
export async function answerBefore(pool: pg.Pool, asked: Asked): Promise<Answered | null> {
  const { rows } = await pool.query<Asked & { answer: Answered | null }>(
    'SELECT account_id AS "accountId", fingerprint, answer FROM request_key WHERE key = $1',
    [asked.key],
  );
  const [before] = rows;
  if (before === undefined) return null;
  if (before.fingerprint !== asked.fingerprint || before.accountId !== asked.accountId)
    throw new Refusal(
      'This Idempotency-Key stood for another request. Send each request under a new one, and only its repeats under the same.',
    );
  return before.answer;
}

/** Keeps the answer beside the key, for repeats. A request that changed nothing has no row, and is made again. */
export async function keepAnswer(pool: pg.Pool, key: string, answer: Answered): Promise<void> {
  await pool.query('UPDATE request_key SET answer = $2 WHERE key = $1 AND answer IS NULL', [
    key,
    JSON.stringify(answer),
  ]);
}

/** Forgets the keys that are older than they are kept. */
export async function sweepKeys(pool: pg.Pool, now: Date): Promise<void> {
  await pool.query('DELETE FROM request_key WHERE created_at < $1::timestamptz - make_interval(days => $2)', [
    now,
    keptDays,
  ]);
}
