import { describe, expect, test } from 'vitest';
import { tissueLoss } from '../../src/watch/rules/lots/tissue-loss.ts';
import { blankLot, blankSystem, dayZero, find, madeId, onDay } from './facts.ts';

// Two unrelated lots that lose flesh within days are a matter of their water: practice of growers.

const look = (day: number, state: 'well' | 'receding', grade: 1 | 2 | 3 = 1) => ({
  ...{ id: madeId(), day: dayZero + day, at: onDay(day).toISOString(), state, compared: null, note: '' },
  grade: state === 'well' ? null : grade,
});
const found = (...lots: ReturnType<typeof look>[][]) =>
  find(
    tissueLoss,
    blankSystem({
      lots: lots.map((conditions, i) =>
        blankLot({
          id: `lot ${i}`,
          cells: [{ row: 1, column: 1 + 5 * i }],
          conditions: conditions.toReversed(),
        }),
      ),
    }),
    61,
  );

describe('flesh loss in one water', () => {
  const fresh = [look(50, 'well'), look(60, 'receding')];

  test('is told of two lots that begin within days', () => {
    expect(found(fresh, [look(50, 'well'), look(59, 'receding')])).toHaveLength(1);
  });

  test('not of one that was noted so before, and passed for well at a look between', () => {
    const old = [look(30, 'well'), look(40, 'receding', 2), look(53, 'well'), look(60, 'receding', 2)];
    expect(found(fresh, old)).toEqual([]);
  });

  test('but where more is gone than then, or where it had come through for three weeks', () => {
    const worse = [look(40, 'receding', 1), look(53, 'well'), look(60, 'receding', 2)];
    expect(found(fresh, worse)).toHaveLength(1);
    const through = [look(20, 'receding', 2), look(40, 'well'), look(53, 'well'), look(60, 'receding', 2)];
    expect(found(fresh, through)).toHaveLength(1);
  });
});
