import { execFileSync } from 'node:child_process';
import { appendFileSync, rmSync, writeFileSync } from 'node:fs';
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import pg from 'pg';
import { startEmbedded } from '../../src/platform/database/embedded.ts';

/** A standby that follows a primary by streaming. */
export interface Standby {
  url: string;
  /** Does something while the standby takes in nothing of what comes. */
  pause(act: () => Promise<void>): Promise<void>;
  stop(): Promise<void>;
}

async function ask(url: string, sql: string): Promise<void> {
  const client = new pg.Client(url);
  await client.connect();
  await client.query(sql).finally(() => client.end());
}

/**
 * Copies a running primary as PostgreSQL's manual has it (26.3.3, a base backup by the low-level API) and starts the copy as its standby.
 * @param from the folder of the primary's embedded server
 */
export async function startStandby(primaryUrl: string, from: string, to: string): Promise<Standby> {
  await mkdir(to);
  const client = new pg.Client(primaryUrl);
  await client.connect();
  await client.query(`SELECT pg_backup_start('standby', fast => true)`);
  execFileSync('cp', ['-a', join(from, 'pg'), join(from, 'database.password'), to]);
  const { rows } = await client.query<{ labelfile: string }>(
    'SELECT labelfile FROM pg_backup_stop(wait_for_archive => false)',
  );
  await client.end();
  rmSync(join(to, 'pg', 'postmaster.pid'), { force: true });
  writeFileSync(join(to, 'pg', 'backup_label'), rows[0]?.labelfile ?? '');
  writeFileSync(join(to, 'pg', 'standby.signal'), '');
  const { hostname, port, username, password } = new URL(primaryUrl);
  appendFileSync(
    join(to, 'pg', 'postgresql.auto.conf'),
    `\nprimary_conninfo = 'host=${hostname} port=${port} user=${username} password=${password}'\n`,
  );
  // The server runs as the owner of its folder.
  execFileSync('chown', ['-R', '--reference', join(from, 'pg'), to]);
  const server = await startEmbedded(to);
  let runs = true;
  return {
    url: server.url,
    pause: async (act) => {
      await ask(server.url, 'SELECT pg_wal_replay_pause()');
      await act().finally(() => ask(server.url, 'SELECT pg_wal_replay_resume()'));
    },
    stop: async () => {
      if (runs) await server.stop();
      runs = false;
    },
  };
}
