import { readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';

const pauseMs = 250;
/** How long a start waits for the service before it to end (own choice): one that stops ends its requests and jobs first. */
const longestWaitMs = 30_000;

/**
 * What tells a process from a later one of the same number: when it began, in ticks since the machine did
 * (field 22 of /proc/PID/stat, proc(5)); empty where there is no /proc. Null where no such process runs.
 */
async function bornAt(pid: number): Promise<string | null> {
  try {
    process.kill(pid, 0);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EPERM') return null;
  }
  const text = await readFile(`/proc/${pid}/stat`, 'utf8').catch(() => '');
  // The name in brackets may itself hold blanks and brackets; the third field comes after the last of them.
  return text === '' ? '' : (text.slice(text.lastIndexOf(')') + 2).split(' ')[19] ?? '');
}

/** The process that a data folder is kept for, or null where none is or that one has ended. */
export const folderHolder = (dir: string): Promise<number | null> => holderOf(lockIn(dir));

const lockIn = (dir: string) => join(dir, 'service.pid');

async function holderOf(file: string): Promise<number | null> {
  const [pid = '', born = ''] = (await readFile(file, 'utf8').catch(() => '')).trim().split(' ');
  const lives = Number(pid) > 0 && Number(pid) !== process.pid ? await bornAt(Number(pid)) : null;
  return lives !== null && lives === born ? Number(pid) : null;
}

/**
 * Keeps a data folder for this process alone. A second start on it, while the first is still stopping, waits: it would
 * otherwise work on a database that the first one then stops.
 * @param say hears in a sentence that the start waits, and for whom
 * @returns gives the folder back
 * @throws Error where another service goes on working in it
 */
export async function holdFolder(dir: string, say: (sentence: string) => void): Promise<() => Promise<void>> {
  const file = lockIn(dir);
  const mine = `${process.pid} ${(await bornAt(process.pid)) ?? ''}\n`;
  const began = Date.now();
  for (let said = false; ; said = true) {
    const taken = await writeFile(file, mine, { flag: 'wx' }).then(
      () => true,
      (error: NodeJS.ErrnoException) => {
        if (error.code === 'EEXIST') return false;
        throw error;
      },
    );
    if (taken) return () => rm(file, { force: true });
    const holder = await holderOf(file);
    if (holder === null) {
      await rm(file, { force: true });
      continue;
    }
    if (Date.now() - began > longestWaitMs)
      throw new Error(
        `Evenwater already runs on ${dir} (process ${holder}). Use that one, stop it first, or set EVENWATER_DATA to another folder.`,
      );
    if (!said) say(`Another Evenwater (process ${holder}) still works on ${dir}. Waiting for it to stop.`);
    await wait(pauseMs);
  }
}
