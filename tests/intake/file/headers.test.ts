import { describe, expect, test } from 'vitest';
import { columnOf, guessHeadRow } from '../../../src/intake/file/headers.rules.ts';
import { columnLayout } from '../../../src/intake/file/layout.rules.ts';
import { logLayout } from '../../../src/intake/log/columns.rules.ts';

// Heads as spreadsheets, laboratories and loggers write them (common practice).

describe('the head of a column', () => {
  test.each([
    ['Date', 'date', ''],
    ['Sampled at', 'when', ''],
    ['TIME', 'time', ''],
    ['Location', 'system', ''],
    ['Parameter', 'quantity', ''],
    ['Result', 'value', ''],
    ['UoM', 'unit', ''],
    ['Lab name', 'laboratory', ''],
    ['Sample ID', 'batch', ''],
    ['Remarks', 'note', ''],
    ['Qualifier', 'code', ''],
    ['NO3 (mg/L)', 'q:nitrate', 'mg/L'],
    ['NO₃', 'q:nitrate', ''],
    ['NO3-N [mg/L]', 'q:nitrate', 'mg/L N'],
    ['NO3-N', 'q:nitrate', 'N'],
    ['PO4-P ppb', 'q:phosphate', 'ppb P'],
    ['dKH', 'q:alkalinity', 'dKH'],
    ['Alkalinity, meq/L', 'q:alkalinity', 'meq/L'],
    ['calcium_mg_l', 'q:calcium', 'mg/L'],
    ['Conductivity (uS/cm) at 25C', 'q:salinity', 'uS/cm at 25C'],
    ['Temp', 'q:temperature', ''],
    ['Nitra', 'ignore', ''],
    ['Colour of the water', 'ignore', ''],
    ['', 'ignore', ''],
  ])('"%s" is %s with the unit "%s"', (head, meaning, unitText) => {
    expect(columnOf(head)).toMatchObject({ meaning, unitText });
  });
});

describe('the row of the heads', () => {
  test.each([
    [
      'the first',
      [
        ['date', 'system', 'Ca'],
        ['2026-11-01', 'Long run', '412'],
      ],
      1,
    ],
    [
      'one beneath a title',
      [
        ['Report 44', '', ''],
        ['date', 'Ca', 'Mg'],
        ['2026-11-01', '412', '1300'],
      ],
      2,
    ],
    ['none, where the file starts with readings', [['2026-11-01', 'Long run', '412']], 0],
    ['one head among three cells is not enough', [['date', 'x', 'y']], 0],
    ['one head among two cells is', [['date', 'x']], 1],
    ['none in an empty file', [], 0],
  ])('%s', (_, rows, row) => {
    expect(guessHeadRow(rows)).toBe(row);
  });
});

describe('a column headed "time"', () => {
  const meanings = (rows: string[][]) => columnLayout(rows, {}).columns.map(({ meaning }) => meaning);
  test('that holds whole dates is day and time where no other column says the day', () => {
    const rows = [
      ['Time', 'dKH'],
      ['2026-11-24 08:00', '8.2'],
      ['25/11/2026 8.30', '8.1'],
    ];
    expect(meanings(rows)).toEqual(['when', 'q:alkalinity']);
    const doses = [
      ['Time', 'Additive', 'Amount'],
      ['2026-11-24 08:00', 'soda', '30'],
    ];
    expect(logLayout('doses', doses, {}).columns[0]?.meaning).toBe('when');
  });
  test.each([
    [
      'times of day beside days',
      [
        ['Date', 'Time', 'dKH'],
        ['2026-11-24', '08:00', '8.2'],
      ],
      1,
    ],
    [
      'times of day alone',
      [
        ['Time', 'dKH'],
        ['08:00', '8.2'],
        ['8.30', '8.1'],
      ],
      0,
    ],
    [
      'nothing',
      [
        ['Time', 'dKH'],
        ['', '8.2'],
      ],
      0,
    ],
  ])('stays the time of day: %s', (_, rows, at) => {
    expect(meanings(rows)[at]).toBe('time');
  });
  test('is what somebody said that it is', () => {
    const rows = [
      ['Time', 'dKH'],
      ['2026-11-24 08:00', '8.2'],
    ];
    expect(columnLayout(rows, { 'column-0': 'ignore' }).columns[0]?.meaning).toBe('ignore');
  });
});
