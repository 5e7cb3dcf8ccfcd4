import { mkdir, rm, stat, writeFile } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';

const isMissing = (error: unknown) => (error as NodeJS.ErrnoException).code === 'ENOENT';

/** Makes a folder and those above it, one at a time: made all at once, a folder under /proc is tried for without end. */
async function makeFolder(dir: string): Promise<void> {
  const found = await stat(dir).catch((error: unknown) => {
    if (isMissing(error) && dirname(dir) !== dir) return null;
    throw error;
  });
  if (found !== null) {
    if (!found.isDirectory()) throw new Error(`${dir} is a file`);
    return;
  }
  await makeFolder(dirname(dir));
  await mkdir(dir).catch((error: NodeJS.ErrnoException) => {
    if (error.code !== 'EEXIST') throw error;
  });
}

/** Makes the folder of the data, and sees that something can be written into it. @throws Error naming the setting */
export async function openDataFolder(dir: string): Promise<void> {
  const probe = join(dir, `.writable-${process.pid}`);
  try {
    await makeFolder(resolve(dir));
    await writeFile(probe, '');
    await rm(probe, { force: true });
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    throw new Error(
      `Nothing can be kept in ${resolve(dir)} (${reason}). Set EVENWATER_DATA to a folder that the service may write to.`,
      { cause: error },
    );
  }
}
