import { describe, expect, test } from 'vitest';
import type { Alert } from '../../src/alerts/alerts.ts';
import { sureWords } from '../../src/watch/alerts/alerts.words.ts';

const amount = (value: number) => ({ label: '', value, text: `${value}`, unit: '' });
const finding = (number: number, limit: number, score: number) =>
  ({
    ...{ doubted: false, figures: [], score, number: amount(number) },
    limit: { ...amount(limit), source: '' },
  }) as unknown as Alert['finding'];

describe('how sure an alert is', () => {
  test('is told by how far its figure lies beyond its limit, on either side', () => {
    expect(sureWords(finding(30, 10, 3))).toBe('far beyond the limit');
    expect(sureWords(finding(12, 10, 1.2))).toBe('beyond the limit');
    expect(sureWords(finding(40, 100, 2.5))).toBe('far beyond the limit');
    expect(sureWords(finding(9, 10, 0.9))).toBe('near the limit');
  });

  test('is not told where its rank comes of something else than its figure', () => {
    // A lot that loses flesh, looked at today: nothing is beyond the seven days after which it wants looking at.
    expect(sureWords(finding(0, 7, 2.6))).toBe('');
  });
});
