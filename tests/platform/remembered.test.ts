import { expect, test } from 'vitest';
import { remembered } from '../../src/platform/remembered.ts';

test('what was worked out of an object is not worked out again, not even when it was nothing', () => {
  let times = 0;
  const work = remembered((_: object) => {
    times += 1;
    return undefined;
  });
  const one = {};
  work(one);
  work(one);
  expect(times).toBe(1);
  work({});
  expect(times).toBe(2);
});
