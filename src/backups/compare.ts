import { createHash } from 'node:crypto';
import type pg from 'pg';
import { to as copyTo } from 'pg-copy-streams';
import { copyOut, type Table } from './contents.ts';

/** The rows of a table in one number: SHA-256 of their text in the order of the key. The session must be a plain one. */
export async function hashOfRows(
  client: pg.ClientBase,
  table: Table,
): Promise<{ rows: number; sha256: string }> {
  const hash = createHash('sha256');
  const rows = client.query(copyTo(copyOut(table)));
  for await (const chunk of rows as AsyncIterable<Buffer>) hash.update(chunk);
  return { rows: rows.rowCount, sha256: hash.digest('hex') };
}
