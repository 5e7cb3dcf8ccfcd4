import { readlinkSync } from 'node:fs';
import { setPriority } from 'node:os';

/** How far behind pages long work stands: a thread of this niceness gets a tenth of a busy core (own choice). */
const NICENESS = 10;

/** Lets this thread's work wait for that of others. Where threads have no priority of their own (all but Linux) nothing changes. */
export function stepBack(): void {
  if (process.platform !== 'linux') return;
  try {
    setPriority(Number(readlinkSync('/proc/thread-self').split('/').at(-1)), NICENESS);
  } catch {
    // A container may hide it: the work is done all the same.
  }
}
