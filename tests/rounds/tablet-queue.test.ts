import { describe, expect, test } from 'vitest';
import { type Mistakes, simulate } from '../bench/simulation/world.ts';

/** Stories of two tablets and a service with faults of every kind; `npm run simulate` runs more and tells one again. */
const stories = async (count: number, mistakes: Mistakes = {}) => {
  const failed: string[] = [];
  for (let seed = 1; seed <= count; seed++) {
    // A tablet that is never done is a fault as well.
    const { faults } = await simulate(seed, mistakes).catch((error: Error) => ({ faults: [error.message] }));
    failed.push(...faults.map((what) => `seed ${seed}: ${what}`));
  }
  return failed;
};

test('over three hundred stories nothing that was kept is lost, doubled, altered or out of order', async () => {
  expect(await stories(300)).toEqual([]);
});

test('a story told again is the same', async () => {
  expect(await simulate(7)).toEqual(await simulate(7));
});

test('a service that fails as a whole at an entry it refuses holds up none of those behind it', async () => {
  expect(await stories(100, { stopsAtRefused: true })).toEqual([]);
});

describe('a mistake is found:', () => {
  test.each<[string, Mistakes, RegExp]>([
    ['a service that forgets keys', { forgetsKeys: true }, /was done \d+ times/],
    ['a service that answers before it has committed', { answersEarly: true }, /is lost/],
    ['a tablet that says a tap is kept before it is', { forgetsToPersist: true }, /is lost/],
    [
      'a service that undoes nothing of what was taken back',
      { forgetsTakenBack: true },
      /was taken back and stands/,
    ],
    ['a tablet that takes silence for a yes', { takesSilenceForYes: true }, /is lost/],
    ['a tablet that sends the newest first', { sendsNewestFirst: true }, /came before/],
    ['a tablet that lets go of what only it holds', { dropsRefused: true }, /is lost/],
  ])('%s', async (_, mistakes, words) => {
    expect((await stories(40, mistakes)).join('\n')).toMatch(words);
  });
});
