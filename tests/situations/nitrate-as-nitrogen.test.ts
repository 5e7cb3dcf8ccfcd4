import { describe, expect, test } from 'vitest';
import { quantities } from '../../seed/library.ts';
import { differenceWords } from '../../src/water/kits/paired-tests.rules.ts';
import type { Quantity } from '../../src/water/quantities/quantities.ts';

// B01, hobby pages and one that tabulates kits: NO3 = 4.4268 NO3-N. Kit P read 10 when kit Q read 20, and 20 when Q read 30:
// a constant, not the ratio of the two forms.

const nitrate = quantities().find(({ code }) => code === 'nitrate') as Quantity;
const pairs = (values: readonly (readonly [number, number])[], u = 0.5) =>
  values.map(([old, value]) => ({ old, value, u }));

describe('two nitrate tests that differ', () => {
  test.each([4.2, 4.4268, 4.6])('by the factor %d look like N versus NO3', (factor) => {
    const words = differenceWords(
      nitrate,
      pairs([
        [2 * factor, 2],
        [5 * factor, 5],
        [9 * factor, 9],
      ]),
    );
    expect(words).toContain('it looks like mg/L as N versus mg/L as NO₃');
  });

  test('by a constant have an offset or a blank, and are not taken for the two forms', () => {
    const words = differenceWords(
      nitrate,
      pairs([
        [20, 10],
        [30, 20],
        [25, 15.2],
      ]),
    );
    expect(words).toContain('10.0 mg/L as NO₃ lower, the same at every level: an offset, a blank not taken');
  });

  test('in proportion have a scale that is off', () => {
    expect(
      differenceWords(
        nitrate,
        pairs([
          [10, 8],
          [20, 16.1],
          [40, 32],
        ]),
      ),
    ).toContain('in proportion to the level');
  });

  test('on waters of one level cannot be told apart, and the tool says so', () => {
    expect(
      differenceWords(
        nitrate,
        pairs([
          [20, 15],
          [21, 16],
          [20, 15],
        ]),
      ),
    ).toContain('waters of one level cannot tell');
  });

  test('by less than chance agree; one or two pairs decide nothing', () => {
    expect(
      differenceWords(
        nitrate,
        pairs([
          [10, 10.2],
          [20, 19.9],
          [30, 30.1],
        ]),
      ),
    ).toContain('They agree');
    expect(differenceWords(nitrate, pairs([[20, 4.5]]))).toContain('Too few pairs');
  });
});
