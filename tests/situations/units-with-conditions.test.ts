import { describe, expect, test } from 'vitest';
import { read, said } from '../intake/files.ts';

// One meter, three spellings: uS/cm, uS/cm at 25C, mS/cm (data collections). Reference: 53.06 mS/cm at 25 degC is a
// practical salinity of about 35 (PSS-78).

const file = (head: string, value: string) => `when,system,${head}\n2026-11-10,Long run,${value}\n`;

describe('a unit that carries a condition', () => {
  test.each([
    ['Conductivity (uS/cm at 25C)', '53060', 'uS/cm', 'Unit in the file: uS/cm at 25C.'],
    ['Conductivity µS/cm @ 25 °C', '53060', 'uS/cm', 'Unit in the file: µS/cm @ 25 °C.'],
    ['Conductivity [mS/cm]', '53.06', 'mS/cm', ''],
  ])('%s is normalised, and what it says is kept', async (head, value, unit, note) => {
    const { lines } = await read(file(head, value));
    expect(lines.map(said)).toEqual([`taken salinity ${value} ${unit}`]);
    expect(lines[0]?.parsed?.reading.value).toBeCloseTo(35, 0);
    expect(lines[0]?.parsed?.note).toBe(note);
  });

  test('another temperature is asked about', async () => {
    const { lines, questions } = await read(file('Conductivity (uS/cm at 20C)', '48000'));
    expect(lines.map((line) => line.state)).toEqual(['asked']);
    expect(questions[0]?.hint).toContain('compensated to 25 degC');
  });

  test('a specific gravity without its temperatures is asked about', async () => {
    const { questions } = await read(file('SG', '1.0264').replace('SG', 'Salinity (SG)'));
    expect(questions[0]?.hint).toContain('both its temperatures');
  });
});
