import { describe, expect, test } from 'vitest';
import { farm, questionIds, read, said } from '../intake/files.ts';

// Non-detects returned as 0 and then deleted as invalid, elsewhere blank, elsewhere "<0.25" split into value and limit
// (data collections and forum threads). Six cases that are never one.

const file = (...values: string[]) =>
  ['when,system,PO4 (mg/L)', ...values.map((value, i) => `2026-11-${10 + i},Long run,${value}`)].join('\n');
const known = farm([
  { quantityCode: 'phosphate', name: 'checker', detectionLimit: 0.02, relative: 0.1, isDefault: true },
]);

describe('what was not seen', () => {
  test('a limit, ND, n.d., zero, a blank and a dash are six different cases', async () => {
    const preview = await read(file('<0.05', 'ND', 'n.d.', '0.00', '', '-', '0.03'), {}, known);
    expect(preview.lines.map(said)).toEqual([
      'taken phosphate <0.05 mg/L',
      'taken phosphate <0.02 mg/L',
      'taken phosphate <0.02 mg/L',
      'asked waits for an answer above',
      'nothing empty',
      'nothing marked as not measured',
      'taken phosphate 0.03 mg/L',
    ]);
    expect(questionIds(preview)).toEqual(['zero-']);
  });

  test.each([
    ['below', 'taken phosphate <0.02 mg/L'],
    ['nothing', 'nothing “0.00” means not measured, as answered'],
    ['leave', 'refused left out, as answered'],
  ])('a zero is what was answered: %s', async (answer, wanted) => {
    expect((await read(file('0.00'), { 'zero-': answer }, known)).lines.map(said)).toEqual([wanted]);
  });

  test('by a method without a limit, the limit is asked for and kept', async () => {
    const bare = farm([{ quantityCode: 'phosphate', name: 'colour card', relative: 0.2, isDefault: true }]);
    for (const method of bare.instruments.methods) method.detectionLimit = null;
    const open = await read(file('ND', 'ND'), {}, bare);
    expect(open.questions).toMatchObject([{ id: 'limit-phosphate-', count: 2 }]);
    const { lines } = await read(file('ND'), { 'limit-phosphate-': '0.03' }, bare);
    expect(lines.map(said)).toEqual(['taken phosphate <0.03 mg/L']);
  });

  test('“ND<0.000” says nothing and is refused', async () => {
    const { lines } = await read(file('ND<0.000'), {}, known);
    expect(lines.map(said)).toEqual([
      'refused “ND<0.000”: a limit of 0 says nothing; enter the limit.'.replaceAll(/[“”]/g, '"'),
    ]);
  });

  test('above the scale is taken as the least that it can be', async () => {
    const { lines } = await read(file('>1'), {}, known);
    expect(lines[0]?.parsed?.reading).toMatchObject({ value: 1, above: true, below: false });
  });
});
