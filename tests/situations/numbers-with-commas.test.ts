import { describe, expect, test } from 'vitest';
import { questionIds, read, said } from '../intake/files.ts';

// Decimal commas stripped on the way in (9,99 became 999), and one comma that may part thousands (forum threads and
// common practice).

const file = (head: string, ...values: string[]) =>
  ['when;system;value', ...values.map((value, i) => `2026-11-0${i + 1};Long run;${value}`)]
    .join('\n')
    .replace('value', head);

describe('a decimal comma', () => {
  test.each([
    ['Alkalinity (dKH)', '8,4', 'taken alkalinity 8.4 dKH'],
    ['Temp (°C)', '25,35', 'taken temperature 25.35 degC'],
    ['NO3 (mg/L)', '9,99', 'taken nitrate 9.99 mg/L'],
    ['Nitrat', '0,5', 'taken nitrate 0.5 mg/L'],
  ])('%s of %s is read as %s', async (head, text, wanted) => {
    const answers = head === 'Nitrat' ? { 'column-2': 'q:nitrate' } : {};
    expect((await read(file(head, text), answers)).lines.map(said)).toEqual([wanted]);
  });

  test('without quotes between commas makes a row too long, which is refused and never read as 8', async () => {
    const { lines } = await read('when,system,Alkalinity (dKH)\n2026-11-01,Long run,8,4\n');
    expect(lines.map(said)).toEqual([
      'refused The row has 4 cells, the head 3. A decimal comma or a separator without quotes around it?',
    ]);
  });
});

describe('one mark before three digits', () => {
  test('in a magnesium column is asked, once for the column, with what is usual', async () => {
    const text = file('Mg (mg/L)', '1,350', '1,340', '1325');
    const { lines, questions } = await read(text);
    expect(lines.map((line) => line.state)).toEqual(['asked', 'asked', 'taken']);
    expect(questions).toMatchObject([{ id: 'mark-magnesium-~2C', rows: [2, 3], count: 2 }]);
    expect(questions[0]?.hint).toMatch(/1,\d{3} to 1,\d{3} mg\/L is usual/);
    const thousands = await read(text, { 'mark-magnesium-~2C': 'thousands' });
    expect(thousands.lines.map(said)).toEqual([
      'taken magnesium 1350 mg/L',
      'taken magnesium 1340 mg/L',
      'taken magnesium 1325 mg/L',
    ]);
  });

  test('answered as the decimal mark is then too little, which is asked again', async () => {
    const preview = await read(file('Mg (mg/L)', '1,350'), { 'mark-magnesium-~2C': 'decimal' });
    expect(questionIds(preview)).toEqual(['mark-magnesium-~2C', 'range-magnesium-mg~2FL-below-2']);
  });

  test('that can only be the decimal mark is not asked', async () => {
    expect((await read(file('Alkalinity (dKH)', '8,125'))).lines.map(said)).toEqual([
      'taken alkalinity 8.125 dKH',
    ]);
  });

  test('with a second one is no doubt', async () => {
    expect((await read(file('Mg (mg/L)', '"1,350.5"'))).lines.map(said)).toEqual([
      'taken magnesium 1350.5 mg/L',
    ]);
  });
});

describe('a value beyond the usual', () => {
  test('is asked about once for all alike', async () => {
    const text = file('Alkalinity (dKH)', '16', '8.4', '17');
    const { questions, lines } = await read(text);
    expect(questions).toMatchObject([{ id: 'range-alkalinity-dKH-above-0', rows: [2, 4], count: 2 }]);
    expect(lines.map((line) => line.state)).toEqual(['asked', 'taken', 'asked']);
    const answered = await read(text, { 'range-alkalinity-dKH-above-0': 'take' });
    expect(answered.lines.map((line) => line.state)).toEqual(['taken', 'taken', 'taken']);
  });

  test('that no water can have is refused, with what it may have meant: 84 dKH', async () => {
    const { lines } = await read(file('Alkalinity (dKH)', '84'));
    expect(lines.map(said)).toEqual(['refused Alkalinity of 84 dKH cannot be. Did you mean 8.4 dKH?']);
  });
});
