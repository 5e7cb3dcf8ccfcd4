import { expect, test } from 'vitest';
import { takeTurns } from '../../src/platform/turns.ts';

/** Something that goes on until it is told to end. */
function task() {
  let end = () => {};
  const ended = new Promise<void>((resolve) => {
    end = resolve;
  });
  return { end, ended };
}

test('so many at a time, the others in the order in which they came, also after one that failed', async () => {
  const turns = takeTurns(2, 60_000);
  const begun: number[] = [];
  const tasks = [task(), task(), task(), task()];
  const all = tasks.map(({ ended }, n) =>
    turns(async () => {
      begun.push(n);
      await ended;
      if (n === 1) throw new Error('failed');
      return n;
    }).catch(() => -1),
  );
  await Promise.resolve();
  expect(begun).toEqual([0, 1]);
  tasks[1]?.end();
  expect(await all[1]).toBe(-1);
  expect(begun).toEqual([0, 1, 2]);
  for (const { end } of tasks) end();
  expect(await Promise.all(all)).toEqual([0, -1, 2, 3]);
  expect(await turns(async () => 'free again')).toBe('free again');
});

test('whoever waits too long is told to come again, and those after it get their turn', async () => {
  const turns = takeTurns(1, 1);
  const first = task();
  const running = turns(() => first.ended);
  await expect(turns(async () => 'never')).rejects.toMatchObject({ status: 503 });
  first.end();
  await running;
  expect(await turns(async () => 'next')).toBe('next');
});
