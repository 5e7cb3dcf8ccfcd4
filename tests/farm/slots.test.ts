import { describe, expect, test } from 'vitest';
import {
  flowChoiceOf,
  flowChoices,
  flowOf,
  inStretch,
  stretchesOf,
} from '../../src/farm/racks/flow.rules.ts';
import { cellsOf, isInGrid, slotName } from '../../src/farm/racks/slots.rules.ts';

describe('the slots of a rack', () => {
  test('are named by row letter and column number, row by row from the back left', () => {
    expect(cellsOf(2, 3).map(slotName)).toEqual(['A1', 'A2', 'A3', 'B1', 'B2', 'B3']);
    expect(slotName({ row: 26, column: 40 })).toBe('Z40');
  });

  test.each([
    [{ row: 2, column: 3 }, true],
    [{ row: 3, column: 3 }, false],
    [{ row: 2, column: 4 }, false],
  ])('%j within two rows of three: %s', (cell, within) => {
    expect(isInGrid(cell, { rows: 2, columns: 3 })).toBe(within);
  });

  test('a choice of flow is a class with or without a jet, and there is no jet where water is still', () => {
    for (const choice of flowChoices) expect(flowChoiceOf(flowOf(choice))).toBe(choice);
    expect(flowOf('medium-jet')).toEqual({ flow: 'medium', jet: true });
    expect(flowChoiceOf({ flow: 'still', jet: true })).toBe('still');
  });

  test.each([
    ['all', ['A1', 'A2', 'A3', 'B1', 'B2', 'B3']],
    ['row-2', ['B1', 'B2', 'B3']],
    ['column-3', ['A3', 'B3']],
    ['', []],
  ])('the stretch "%s" is %j', (stretch, names) => {
    const inside = cellsOf(2, 3).filter((cell) => inStretch(cell, stretch));
    expect(inside.map(slotName)).toEqual(names);
  });

  test('every stretch of a rack can be chosen', () => {
    expect(stretchesOf({ rows: 2, columns: 3 }).map(({ text }) => text)).toEqual([
      'Every slot',
      'Row A',
      'Row B',
      'Column 1',
      'Column 2',
      'Column 3',
    ]);
  });
});
