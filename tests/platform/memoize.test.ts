import { expect, test } from 'vitest';
import { memoize, memoizeWith } from '../../src/platform/memoize.ts';

test('what was worked out of an object is not worked out again, not even when it was nothing', () => {
  let times = 0;
  const work = memoize((_: object) => {
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

test('lists of the same things are the same, and anything else is worked out again', () => {
  let times = 0;
  const total = memoizeWith(
    ([first]) => first,
    (list: readonly { n: number }[], more: number) => {
      times += 1;
      return list.reduce((sum, { n }) => sum + n, more);
    },
  );
  const [a, b] = [{ n: 1 }, { n: 2 }];
  expect([total([a, b], 0), total([a, b], 0)]).toEqual([3, 3]);
  expect(times).toBe(1);
  expect([total([a, b], 1), total([a, { n: 2 }], 0), total([a], 0), total([a, b], 0)]).toEqual([4, 3, 1, 3]);
  expect(times).toBe(4);
  expect([total([], 5), total([], 5)]).toEqual([5, 5]);
  expect(times).toBe(6);
});
