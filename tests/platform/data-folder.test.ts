import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { startProcess } from '../support/processes.ts';

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'evenwater-folder-'));
  await writeFile(join(folder, 'a-file'), '');
});
afterAll(() => rm(folder, { recursive: true, force: true }));

test.each([
  ['/proc', () => '/proc/evenwater'],
  ['a device', () => '/dev/null/data'],
  ['a read-only place of the system', () => '/sys/evenwater'],
  ['a file', () => join(folder, 'a-file')],
  ['a folder below a file', () => join(folder, 'a-file', 'deep')],
])('data in %s ends the start with a sentence that names the setting', async (_, place) => {
  const started = startProcess('src/main.ts', [], { EVENWATER_DATA: place(), PORT: '0' });
  const ended = new Promise<number | null>((done) => started.child.on('close', done));
  try {
    expect(await Promise.race([ended, started.says(/never said/).catch(() => 'runs on')])).toBe(1);
    expect(started.output()).toContain('Set EVENWATER_DATA to a folder that the service may write to.');
    expect(started.output().trim().split('\n')).toHaveLength(1);
  } finally {
    started.kill();
  }
});
