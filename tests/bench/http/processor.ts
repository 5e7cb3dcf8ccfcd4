import { readdir, readFile } from 'node:fs/promises';
import type pg from 'pg';

/** Processor time used so far, milliseconds. */
export interface Used {
  /** This process, without the threads of workers. */
  node: number;
  /** The database server and all its processes; null where it runs elsewhere, or the system tells nothing of it. */
  database: number | null;
}

/** A tick of the kernel's clock, ms: what Linux tells programs, whatever its own clock (proc(5), USER_HZ). */
const tickMs = 10;

/** Parent and ticks of a process, its own and those of its ended children (proc(5), stat, fields 4 and 14 to 17). */
async function processOf(pid: string): Promise<{ parent: string; own: number; ended: number } | null> {
  const stat = await readFile(`/proc/${pid}/stat`, 'utf8').catch(() => null);
  if (stat === null) return null;
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
  const at = (n: number) => Number(fields[n - 3]);
  return { parent: fields[1] ?? '', own: at(14) + at(15), ended: at(16) + at(17) };
}

/** The process that all others of the server come from; null where it is not one of this machine. */
async function serverOf(pool: pg.Pool): Promise<string | null> {
  const { rows } = await pool.query<{ pid: number }>('SELECT pg_backend_pid() AS pid');
  return (await processOf(String(rows[0]?.pid)))?.parent ?? null;
}

async function databaseMs(server: string): Promise<number> {
  const pids = (await readdir('/proc')).filter((name) => /^\d+$/.test(name));
  const all = await Promise.all(pids.map(async (pid) => ({ pid, is: await processOf(pid) })));
  const ticks = all.map(({ pid, is }) => {
    if (is === null) return 0;
    if (pid === server) return is.own + is.ended;
    return is.parent === server ? is.own : 0;
  });
  return ticks.reduce((sum, one) => sum + one, 0) * tickMs;
}

/** Tells processor time, of this thread and of the server behind the pool. */
export async function processorClock(pool: pg.Pool): Promise<() => Promise<Used>> {
  const server = await serverOf(pool);
  return async () => {
    const { user, system } = process.threadCpuUsage();
    return { node: (user + system) / 1000, database: server === null ? null : await databaseMs(server) };
  };
}
