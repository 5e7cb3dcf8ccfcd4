import { describe, expect, test } from 'vitest';
import { quantities } from '../../../seed/library.ts';
import { type Answers, questionList } from '../../../src/intake/file/questions.rules.ts';
import { readValue, type ValueCell } from '../../../src/intake/file/values.rules.ts';
import type { Quantity } from '../../../src/water/quantities/quantities.ts';

// What laboratories and notebooks write where nothing was found, and what it may mean (common practice).

const photometer = { absolute: 0, relative: 0.1, detectionLimit: 0.02 };
const card = { absolute: 0, relative: 0.2, detectionLimit: null };

function outcome(text: string, more: Partial<ValueCell> & { answers?: Answers } = {}): string {
  const { answers = {}, ...cell } = more;
  const questions = questionList(answers);
  const quantity = quantities().find(({ code }) => code === 'phosphate') as Quantity;
  const result = readValue(
    {
      row: 2,
      text,
      code: null,
      quantity,
      unit: 'mg/L',
      method: photometer,
      laboratory: '',
      column: 0,
      limit: '',
      decimalMark: null,
      ...cell,
    },
    questions,
  );
  if (result.state !== 'taken') return [result.state, ...questions.questions().map(({ id }) => id)].join(' ');
  return `${result.reading.below ? '<' : result.reading.above ? '>' : ''}${result.reading.entered}`;
}

describe('the value of a cell', () => {
  test.each<[string, string, Parameters<typeof outcome>[1], string]>([
    ['a number', '0.03', {}, '0.03'],
    ['a decimal comma', '0,03', {}, '0.03'],
    ['a limit', '<0.05', {}, '<0.05'],
    ['not detected, by a method with a limit', 'ND', {}, '<0.02'],
    ['not detected, by a method without one', 'ND', { method: card }, 'asked limit-phosphate-'],
    [
      'not detected, with the limit answered',
      'ND',
      { method: card, answers: { 'limit-phosphate-': '0.04' } },
      '<0.04',
    ],
    ['a blank', '', {}, 'nothing'],
    ['a dash', '-', {}, 'nothing'],
    ['a zero', '0.00', {}, 'asked zero-'],
    ['a zero that was below the limit', '0', { answers: { 'zero-': 'below' } }, '<0.02'],
    ['a zero that was not measured', '0', { answers: { 'zero-': 'nothing' } }, 'nothing zero-'],
    ['a zero whose rows are left out', '0', { answers: { 'zero-': 'leave' } }, 'refused zero-'],
    ['a zero of a laboratory is asked about by its name', '0', { laboratory: 'Ebbe' }, 'asked zero-Ebbe'],
    [
      'a true zero cannot be answered for a laboratory',
      '0',
      { laboratory: 'Ebbe', answers: { 'zero-Ebbe': 'value' } },
      'asked zero-Ebbe',
    ],
    ['a code that says limit', '0.05', { code: '<' }, '<0.05'],
    ['a code that says value', '0.05', { code: '=' }, '0.05'],
    ['a code that nobody knows', '0.05', { code: '7' }, 'asked code-7'],
    ['a code answered as a limit', '0.05', { code: '2', answers: { 'code-2': 'limit' } }, '<0.05'],
    [
      'a code answered as nothing measured',
      '0.05',
      { code: '0', answers: { 'code-0': 'nothing' } },
      'nothing code-0',
    ],
    ['above the scale', '>1', {}, '>1'],
    ['a code that says above the scale', '0.5', { code: '>' }, '>0.5'],
    ['words', 'clear', {}, 'refused'],
    ['more than water can hold', '80', {}, 'refused'],
    ['more than is usual', '9', {}, 'asked range-phosphate-mg~2FL-above-0'],
    ['more than is usual, answered', '9', { answers: { 'range-phosphate-mg~2FL-above-0': 'take' } }, '9'],
  ])('%s', (_, text, more, wanted) => {
    expect(outcome(text, more)).toBe(wanted);
  });

  test.each([
    [{}, 'asked mark-calcium-~2C'],
    [{ 'mark-calcium-~2C': 'thousands' }, 'asked mark-calcium-~2C range-calcium-mg~2FL-above-0'],
    [{ 'mark-calcium-~2C': 'leave' }, 'refused mark-calcium-~2C'],
  ])('one mark before three digits, answered %o', (answers, wanted) => {
    const quantity = quantities().find(({ code }) => code === 'calcium') as Quantity;
    expect(outcome('1,350', { quantity, answers: answers as Answers })).toBe(wanted);
  });
});
