import { spawn } from 'node:child_process';
import { mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { holdFolder } from '../../src/platform/database/folder-lock.ts';
import { startProcess } from '../support/processes.ts';

let dir: string;
beforeEach(async () => {
  dir = await mkdtemp(join(tmpdir(), 'evenwater-lock-'));
});
afterEach(() => rm(dir, { recursive: true, force: true }));

const lock = fileURLToPath(new URL('../../src/platform/database/folder-lock.ts', import.meta.url));

/** Another process that holds the folder until it is told to let go by the end of its input. */
async function otherHolder(dir: string) {
  const code = `const { holdFolder } = await import(${JSON.stringify(lock)});
    const release = await holdFolder(${JSON.stringify(dir)}, () => undefined);
    console.log('held');
    process.stdin.resume().on('end', async () => { await release(); process.exit(0); });`;
  const child = spawn(process.execPath, ['--input-type=module', '-e', code], {
    stdio: ['pipe', 'pipe', 'inherit'],
  });
  await new Promise((done) => child.stdout.once('data', done));
  return child;
}

test('a second start waits while the first still works on the folder, says for whom, and then goes on', async () => {
  const first = await otherHolder(dir);
  const said: string[] = [];
  let held = false;
  const second = holdFolder(dir, (sentence) => said.push(sentence)).then((release) => {
    held = true;
    return release;
  });
  await expect
    .poll(() => said)
    .toEqual([`Another Evenwater (process ${first.pid}) still works on ${dir}. Waiting for it to stop.`]);
  await wait(500);
  expect(held).toBe(false);
  expect(said).toHaveLength(1);
  first.stdin.end();
  await (await second)();
});

test('a folder whose holder was killed is free', async () => {
  const first = await otherHolder(dir);
  const gone = new Promise((done) => first.once('exit', done));
  first.kill('SIGKILL');
  await gone;
  const release = await holdFolder(dir, (sentence) => expect.fail(sentence));
  expect(await readFile(join(dir, 'service.pid'), 'utf8')).toContain(String(process.pid));
  await release();
});

test('a number that now belongs to another process does not hold the folder', async () => {
  const stranger = spawn('sleep', ['60']);
  await writeFile(join(dir, 'service.pid'), `${stranger.pid} 1\n`);
  await (await holdFolder(dir, (sentence) => expect.fail(sentence)))();
  stranger.kill();
});

test('a second start of the service says in words, and in no line of its log, that it waits', async () => {
  const held = join(dir, 'database');
  await mkdir(held);
  const first = await otherHolder(held);
  const second = startProcess('src/main.ts', [], { EVENWATER_DATA: dir, PORT: '0' });
  try {
    await second.says(/Waiting for it to stop/);
    expect(second.output().trim()).toBe(
      `Another Evenwater (process ${first.pid}) still works on ${held}. Waiting for it to stop.`,
    );
  } finally {
    second.kill();
    first.stdin.end();
  }
});
