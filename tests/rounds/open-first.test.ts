import { expect, test } from 'vitest';
import { openFirst } from '../../src/rounds/schedule/schedule.ts';

test('rounds still to be walked stand before those that are over, each in their order', () => {
  const rounds = (['finished', 'missed', 'due', 'running', 'later'] as const).map((state) => ({ state }));
  expect(openFirst(rounds).map(({ state }) => state)).toEqual([
    'due',
    'running',
    'later',
    'finished',
    'missed',
  ]);
});
