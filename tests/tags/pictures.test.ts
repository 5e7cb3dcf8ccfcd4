import { expect, test } from 'vitest';
import { buyerCautions } from '../../src/tags/public/cautions.rules.ts';
import { foodPicture } from '../../src/tags/public/pictures.rules.ts';
import type { TagRecord } from '../../src/tags/record/record.ts';

const fed = (times: number) => foodPicture({ feeding: { days: 30, times } } as TagRecord);

test('the picture of food says once as once, and draws nothing where no feeding was recorded', () => {
  expect(fed(1)).toContain('aria-label="Fed 1 time in 30 days."');
  expect(fed(2)).toContain('aria-label="Fed 2 times in 30 days."');
  expect(fed(0)).toBe('');
});

test('a buyer reads of poison, sting and care, not of cutting and papers; what the farm wrote itself stays', () => {
  const said = (...cautions: string[]) => buyerCautions({ cautions } as TagRecord);
  const papers =
    'Stony corals are listed in CITES Appendix II: keep the papers with the lot and follow local rules.';
  expect(
    said(`${papers} Cut under running water with eye protection; the slime and the saw spray irritate.`),
  ).toEqual([]);
  expect(said(`${papers} Keep 20 cm from other kinds: sweepers.`)).toEqual([
    'Keep 20 cm from other kinds: sweepers.',
  ]);
  const poison =
    'May hold palytoxin: gloves and eye protection, no boiling. With fever get medical help and name palytoxin.';
  expect(said(poison, 'Stings 7 cm far.')).toEqual([poison, 'Stings 7 cm far.']);
});
