import { createHash } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import type pg from 'pg';

/** The database knows only the hash of a key. The key itself is random, so a plain hash is enough. */
export const keyHash = (key: string): string => createHash('sha256').update(key).digest('hex');

/** The access key of a request (`Authorization: Bearer ...`), or null where it sends none. */
export function bearerKey({ headers }: FastifyRequest): string | null {
  return /^Bearer\s+(\S+)$/i.exec(headers.authorization ?? '')?.[1] ?? null;
}

const holder = `
  WITH found AS (SELECT id, name, last_used_at FROM access_key WHERE hash = $1 AND ended_at IS NULL),
       used AS (UPDATE access_key SET last_used_at = $2
                 WHERE id IN (SELECT id FROM found WHERE last_used_at IS NULL OR last_used_at < $2::timestamptz - interval '1 minute'))
  SELECT id, name FROM found`;

/** Who holds an access key, and that it was used (to a minute); null when it is unknown or was ended. One query. */
export async function keyHolder(
  pool: pg.Pool,
  key: string,
  now: Date,
): Promise<{ id: string; name: string } | null> {
  const { rows } = await pool.query<{ id: string; name: string }>(holder, [keyHash(key), now]);
  return rows[0] ?? null;
}
