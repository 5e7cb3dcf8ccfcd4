import { describe, expect, test } from 'vitest';
import { read, said } from '../intake/files.ts';

// Public data files of coral research (common practice, no one source): rows ended by a bare CR, fields quoted twice,
// UTF-8 signs read as Latin-1, and a unit typed as micrometre where micromole was meant.

const rows = ['when,system,Temp (°C)', '2026-11-01 08:00,Long run,25.1', '2026-11-02 08:00,Long run,25.3'];
const taken = ['taken temperature 25.1 degC', 'taken temperature 25.3 degC'];

const utf16 = (text: string, big = false) => {
  const bytes = Buffer.from(text, 'utf16le');
  return new Uint8Array(big ? bytes.swap16() : bytes);
};

describe('line ends', () => {
  test.each([
    ['bare CR', '\r', 'lines end with bare CR'],
    ['LF', '\n', 'lines end with LF'],
    ['CR LF', '\r\n', 'lines end with CR LF'],
  ])('%s part rows, with or without one at the end', async (_, end, words) => {
    for (const text of [rows.join(end), rows.join(end) + end]) {
      const preview = await read(text);
      expect(preview.lines.map(said)).toEqual(taken);
      expect(preview.format.notices.join(' ')).toContain(words);
    }
  });

  test('147 rows ended by a bare CR are 147 readings, never one', async () => {
    const many = Array.from(
      { length: 147 },
      (_, i) => `2026-0${1 + (i % 9)}-1${i % 10} 0${i % 8}:${10 + (i % 50)},Long run,25.${i % 10}`,
    );
    const { lines } = await read([rows[0], ...many].join('\r'));
    expect(lines).toHaveLength(147);
  });

  test('that differ within a file are all ends, and it is said', async () => {
    const preview = await read(`${rows[0]}\r\n${rows[1]}\r${rows[2]}\n`);
    expect(preview.lines.map(said)).toEqual(taken);
    expect(preview.format.notices.join(' ')).toContain('lines end differently');
  });
});

describe('quotes', () => {
  test('wrapped twice are taken off, and it is said', async () => {
    const preview = await read(
      '"""when""","""system""","""Calcium"""\n"""2026-11-01""","""Long run""","""412"""\n',
    );
    expect(preview.lines.map(said)).toEqual(['taken calcium 412 mg/L']);
    expect(preview.format.notices.join(' ')).toContain('6 cells were in quotes twice');
  });

  test('a line break, a separator and a doubled quote within quotes belong to the cell', async () => {
    const { lines } = await read(
      'when,system,Ca,note\r\n2026-11-01,Long run,412,"a ""new"" bottle,\r\nopened today"\r\n',
    );
    expect(lines[0]?.parsed?.note).toBe('a "new" bottle,\r\nopened today');
  });
});

describe('the encoding', () => {
  test.each([
    ['UTF-8', new TextEncoder().encode(rows.join('\n')), 'UTF-8'],
    ['UTF-8 with a mark', new TextEncoder().encode(`\uFEFF${rows.join('\n')}`), 'byte order mark'],
    ['UTF-16 with a mark', utf16(`\uFEFF${rows.join('\n')}`), 'UTF-16, little-endian'],
    ['UTF-16 without one', utf16(rows.join('\n')), 'UTF-16, little-endian'],
    ['UTF-16 the other way round', utf16(`\uFEFF${rows.join('\n')}`, true), 'UTF-16, big-endian'],
    ['Windows-1252', new Uint8Array(Buffer.from(rows.join('\n'), 'latin1')), 'Windows-1252'],
  ])('%s is found, and the guess is said', async (_, bytes, words) => {
    const preview = await read(bytes);
    expect(preview.lines.map(said)).toEqual(taken);
    expect(preview.format.notices[0]).toContain(words);
  });

  test('chosen wrongly, is doubted: one sign became two', async () => {
    const { format } = await read(rows.join('\n'), { encoding: 'windows-1252' });
    expect(format.notices.join(' ')).toContain('“Â°” is there where one character should be');
  });
});

describe('a unit that cannot be', () => {
  test('is asked about: um is a length, and nothing is taken until it is settled', async () => {
    const file = 'when,system,Nitrate (um/L)\n2026-11-01,Long run,80\n';
    const { questions, lines } = await read(file);
    expect(lines.map(said)).toEqual(['asked waits for an answer above']);
    expect(questions).toMatchObject([{ id: 'unit-2', text: 'Which unit of nitrate is “um/L”?' }]);
    expect(questions[0]?.hint).toContain('a micromole is written umol');
    const settled = await read(file, { 'unit-2': 'umol/L' });
    expect(settled.lines.map(said)).toEqual(['taken nitrate 80 umol/L']);
    expect(settled.lines[0]?.parsed?.note).toBe('Unit in the file: um/L.');
  });
});
