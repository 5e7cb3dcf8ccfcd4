import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';

/** Linux counts processor time in hundredths of a second. */
const tickMs = 10;

/** Fields of /proc/PID/stat from the third on: the name before them may hold spaces. */
function statOf(pid: string): string[] {
  try {
    const text = readFileSync(`/proc/${pid}/stat`, 'utf8');
    return text.slice(text.lastIndexOf(')') + 2).split(' ');
  } catch {
    return []; // It has ended meanwhile.
  }
}

/**
 * Processor time that the PostgreSQL of a data folder has taken so far, in ms: its processes and those of them that have
 * ended. 0 where the system has no /proc.
 */
export function serverTime(folder: string): number {
  const pid = readFileSync(join(folder, 'database/pg/postmaster.pid'), 'utf8').split('\n')[0] ?? '';
  const ticks = (stat: string[], from: number, count: number) =>
    stat.slice(from, from + count).reduce((sum, each) => sum + Number(each), 0);
  // proc(5): parent 4, own user and system time 14 and 15, that of ended children 16 and 17.
  const own = ticks(statOf(pid), 11, 4);
  const children = readdirSync('/proc')
    .filter((name) => /^\d+$/.test(name))
    .map(statOf)
    .filter((stat) => stat[1] === pid);
  return tickMs * children.reduce((sum, stat) => sum + ticks(stat, 11, 2), own);
}
