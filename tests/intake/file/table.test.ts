import { describe, expect, test } from 'vitest';
import { readTable } from '../../../src/intake/file/table.ts';

describe('a file that is no table of readings', () => {
  test('eight megabytes of commas are refused at once, by their line', async () => {
    await expect(readTable(`day,pH\n${','.repeat(8_000_000)}`, 'comma')).rejects.toThrow(
      'Line 2 has more than 100,000 characters',
    );
  });

  test('a row of too many columns is refused, by its row', async () => {
    await expect(readTable(`a,b\n${','.repeat(2000)}`, 'comma')).rejects.toThrow(
      'Row 2 has 2,001 columns; at most 1,000 are read',
    );
  });

  test('lines that end in any of the usual ways are counted alike', async () => {
    for (const end of ['\n', '\r\n', '\r'])
      await expect(readTable(`a${end}b${end}${'x'.repeat(100_001)}`, 'comma')).rejects.toThrow('Line 3 has');
  });
});

test('as many rows as may be are read below a heading with lines about it; more are refused', async () => {
  const file = (rows: number) => `Probe 4, north\n\nat,pH\n${'2026-11-24 07:30,8.1\n'.repeat(rows)}\n`;
  expect((await readTable(file(100_000), 'comma')).rows.at(-2)).toEqual(['2026-11-24 07:30', '8.1']);
  await expect(readTable(file(100_020), 'comma')).rejects.toThrow(
    'more than 100,000 rows. Upload it in parts.',
  );
});

test('twenty columns of as many rows as may be are read, with their heading', async () => {
  const heading = Array.from({ length: 20 }, (_, i) => `column ${i}`).join(',');
  const row = `${'1,'.repeat(19)}1\n`;
  expect((await readTable(`${heading}\n${row.repeat(100_000)}`, 'comma')).rows).toHaveLength(100_001);
});

test('cells full of quotation marks are read, and lose those at their ends', async () => {
  // With work that grows by the square of a cell these rows would take minutes.
  const quotes = '"'.repeat(98_000);
  const row = `"""a${quotes}b"""`;
  const { rows, unwrapped } = await readTable(Array(40).fill(row).join('\n'), 'comma');
  expect(unwrapped).toBe(40);
  expect(rows[39]?.[0]).toBe(`a${quotes.slice(0, 49_000)}b`);
});

test('a wide table with long notes is read', async () => {
  const wide = Array.from({ length: 400 }, (_, i) => `column ${i}`).join(',');
  const { rows } = await readTable(`${wide}\n${'a long note '.repeat(5000)},1`, 'comma');
  expect(rows.map((row) => row.length)).toEqual([400, 2]);
});
