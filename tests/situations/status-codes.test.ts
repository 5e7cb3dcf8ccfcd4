import { describe, expect, test } from 'vitest';
import { isFullyAnswered } from '../../src/intake/imports/preview.ts';
import { read, said } from '../intake/files.ts';

// A status column: 0 blank, 1 valid, 2 the value is a detection limit (data collections).

const file =
  'when,system,parameter,result,unit,status\n2026-11-10,Long run,NO3,4.2,mg/L,1\n2026-11-11,Long run,NO3,0.25,mg/L,2\n2026-11-12,Long run,NO3,,mg/L,0\n2026-11-13,Long run,NO3,5,mg/L,7\n';
const map = { 'code-1': 'value', 'code-2': 'limit', 'code-0': 'nothing' };

describe('a column of codes', () => {
  test('is not read before every code is known', async () => {
    const { questions, lines } = await read(file);
    expect(questions.map((question) => question.id)).toEqual(['code-1', 'code-2', 'code-0', 'code-7']);
    expect(lines.map((line) => line.state)).toEqual(Array(4).fill('asked'));
  });

  test('gives value, limit and nothing by the map; a code that is not in it stops the file', async () => {
    const preview = await read(file, map);
    expect(preview.lines.map(said)).toEqual([
      'taken nitrate 4.2 mg/L',
      'taken nitrate <0.25 mg/L',
      'nothing blank, by its code',
      'asked waits for an answer above',
    ]);
    expect(isFullyAnswered(preview)).toBe(false);
    expect(isFullyAnswered(await read(file, { ...map, 'code-7': 'leave' }))).toBe(true);
  });
});
