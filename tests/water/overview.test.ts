import { describe, expect, test } from 'vitest';
import { quantities } from '../../seed/library.ts';
import type { HistoryPoint } from '../../src/water/overview/overview.ts';
import { steadinessWords } from '../../src/water/overview/steadiness.rules.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';

const now = new Date('2026-11-24T08:00Z');
const quantity = (code: string) => quantities().find((one) => one.code === code) as Quantity;
const point = (ago: number, value: number, more: Partial<HistoryPoint> = {}): HistoryPoint => ({
  systemId: 'system',
  quantityCode: 'alkalinity',
  at: new Date(now.getTime() - ago * 86_400_000),
  value,
  below: false,
  above: false,
  uncertainty: 0.07,
  kitId: null,
  trust: 'plain',
  ...more,
});
const level = (values: readonly number[]) => values.map((value, i) => point(values.length - 1 - i, value));

describe('how steady a level was in the last seven days', () => {
  test.each([
    ['cannot be said without tests', 'alkalinity', [], 'too few tests to say'],
    ['cannot be said by one test', 'alkalinity', level([3]), 'too few tests to say'],
    // 2.8 dKH to 1 meq/L: 0.1 meq/L are 0.3 dKH, which tests with an error of 0.2 dKH show in steady water.
    ['says that alkalinity was steady', 'alkalinity', level([3, 3.1, 3, 3.1, 3]), 'swung 0.3 in 7 d, steady'],
    [
      'says that it swung',
      'alkalinity',
      level([3, 3.6, 3, 3.6, 3]),
      'swung 1.7 in 7 d, more than steady water',
    ],
    ['gives the swing alone of another quantity', 'nitrate', level([8, 10, 9, 8, 9]), 'swung 2.0 in 7 d'],
    [
      'leaves out unconfirmed readings and those below detection',
      'alkalinity',
      [...level([3, 3.1, 3, 3.1, 3]), point(0, 5, { trust: 'unconfirmed' }), point(0, 0, { below: true })],
      'swung 0.3 in 7 d, steady',
    ],
  ] as const)('%s', (_, code, points, words) => {
    expect(steadinessWords(points, [], quantity(code), now)).toBe(words);
  });

  test('counts from the last change of habits on', () => {
    const points = level([3, 3.6, 3, 3.05, 3, 3.05]);
    const changed = [{ day: now.getTime() / 86_400_000 - 3.5 }];
    expect(steadinessWords(points, changed, quantity('alkalinity'), now)).toBe('swung 0.1 in 7 d, steady');
  });
});
