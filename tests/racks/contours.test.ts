import { describe, expect, test } from 'vitest';
import { cellsOf } from '../../src/farm/racks/slots.rules.ts';
import { contourLines } from '../../src/racks/drawing/contours.rules.ts';

const rack = { rows: 3, columns: 4 };
const slots = cellsOf(rack.rows, rack.columns);
type Light = (row: number, column: number) => number | null;
const lines = (par: Light, values: number[], grid = rack) =>
  contourLines(slots, { ...grid, lightOf: ({ row, column }) => par(row, column) }, values);

describe('lines of equal light', () => {
  test('stand straight where light rises along the columns, between the slots it falls between', () => {
    // 50, 100, 150, 200: 70 lies two fifths of the way from the middle of column 1 (0.5) to that of column 2 (1.5).
    const [line, ...others] = lines((_, column) => 50 * column, [70]);
    expect(others).toEqual([]);
    for (const [from, to] of line?.segments ?? []) {
      expect(from[0]).toBeCloseTo(0.9, 10);
      expect(to[0]).toBeCloseTo(0.9, 10);
    }
    const rows = (line?.segments ?? []).flat().map(([, row]) => row);
    expect(Math.min(...rows)).toBeLessThan(0);
    expect(Math.max(...rows)).toBeGreaterThan(rack.rows);
  });

  test('close around a bright slot', () => {
    const [line] = lines((row, column) => (row === 2 && column === 2 ? 150 : 50), [100]);
    expect(line?.segments).toHaveLength(4);
    const ends = (line?.segments ?? []).flat().map(String);
    for (const end of ends) expect(ends.filter((one) => one === end)).toHaveLength(2);
  });

  test('part the two bright corners of a saddle where its middle is dim', () => {
    const bright: Light = (row, column) => (row === column && row < 3 ? 120 : 50);
    const [line] = lines(bright, [100], { rows: 2, columns: 2 });
    const inner = (line?.segments ?? []).filter((piece) =>
      piece.every(([x, y]) => x > 0.4 && x < 1.6 && y > 0.4 && y < 1.6),
    );
    expect(inner).toHaveLength(2);
  });

  test('are not made up where light is not known, and there are none that no slot reaches', () => {
    expect(lines(() => null, [70])).toEqual([]);
    expect(lines(() => 100, [70, 140])).toEqual([]);
    const half = lines((_, column) => (column > 2 ? null : 50 * column), [70]);
    expect((half[0]?.segments ?? []).flat().every(([x]) => x <= 1.5)).toBe(true);
  });
});
