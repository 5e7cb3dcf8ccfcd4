import { describe, expect, test } from 'vitest';
import { besideBoxes } from '../../src/racks/drawing/line-breaks.rules.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';

// Lines of equal light are broken at figures. Plane geometry, worked by hand and tried on random lines.

const box = { left: 10, top: 10, right: 30, bottom: 20 };

describe('a line beside boxes', () => {
  test('is broken where it runs through one', () => {
    expect(
      besideBoxes(
        [
          [
            [0, 15],
            [50, 15],
          ],
        ],
        [box],
      ),
    ).toEqual([
      [
        [0, 15],
        [10, 15],
      ],
      [
        [30, 15],
        [50, 15],
      ],
    ]);
    expect(
      besideBoxes(
        [
          [
            [20, 0],
            [20, 40],
          ],
        ],
        [box],
      ),
    ).toEqual([
      [
        [20, 0],
        [20, 10],
      ],
      [
        [20, 20],
        [20, 40],
      ],
    ]);
  });

  test('stays whole where it passes by, and goes where it lies within', () => {
    expect(
      besideBoxes(
        [
          [
            [0, 5],
            [50, 5],
          ],
        ],
        [box],
      ),
    ).toEqual([
      [
        [0, 5],
        [50, 5],
      ],
    ]);
    expect(
      besideBoxes(
        [
          [
            [12, 12],
            [28, 18],
          ],
        ],
        [box],
      ),
    ).toEqual([]);
  });

  test('keeps no crumbs between boxes that nearly touch', () => {
    const beside = { ...box, left: 32, right: 45 };
    expect(
      besideBoxes(
        [
          [
            [0, 15],
            [60, 15],
          ],
        ],
        [beside, box],
      ),
    ).toEqual([
      [
        [0, 15],
        [10, 15],
      ],
      [
        [45, 15],
        [60, 15],
      ],
    ]);
  });

  test('never runs through a box, whatever the line', () => {
    const random = seededRandom(3);
    const point = (): [number, number] => [60 * random.uniform(), 60 * random.uniform()];
    const others = [box, { left: 25, top: 18, right: 50, bottom: 40 }];
    for (let i = 0; i < 2000; i++)
      for (const [[x, y], [x2, y2]] of besideBoxes([[point(), point()]], others))
        for (const share of [0.02, 0.5, 0.98]) {
          const [px, py] = [x + share * (x2 - x), y + share * (y2 - y)];
          const within = others.some(
            (one) => px > one.left && px < one.right && py > one.top && py < one.bottom,
          );
          expect(within).toBe(false);
        }
  });
});
