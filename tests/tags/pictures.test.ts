import { expect, test } from 'vitest';
import { foodPicture } from '../../src/tags/public/pictures.rules.ts';
import type { TagRecord } from '../../src/tags/record/record.ts';

const fed = (times: number) => foodPicture({ feeding: { days: 30, times } } as TagRecord);

test('the picture of food says once as once, and draws nothing where no feeding was recorded', () => {
  expect(fed(1)).toContain('aria-label="Fed 1 time in 30 days."');
  expect(fed(2)).toContain('aria-label="Fed 2 times in 30 days."');
  expect(fed(0)).toBe('');
});
