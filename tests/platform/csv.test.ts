import { expect, test } from 'vitest';
import { csvText } from '../../src/platform/csv.ts';

// OWASP, CSV injection: cells that begin with =, +, -, @, a tab or a carriage return.
test.each([
  ['=HYPERLINK("http://other.example")', `"'=HYPERLINK(""http://other.example"")"`],
  ['+1+cmd', "'+1+cmd"],
  ['-2+3', "'-2+3"],
  ['@SUM(A1)', "'@SUM(A1)"],
  ['\tx', "'\tx"],
  ['-0.5', '-0.5'],
  ['+7', '+7'],
  ['Hall 1 = old', 'Hall 1 = old'],
  [-0.5, '-0.5'],
  [null, ''],
])('a cell of %j is written as %s', (cell, written) => {
  expect(csvText([[cell]])).toBe(`${written}\r\n`);
});
