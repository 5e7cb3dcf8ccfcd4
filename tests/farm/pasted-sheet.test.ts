import { describe, expect, test } from 'vitest';
import { joinPasted, readPasted } from '../../src/farm/surveys/pasted-sheet.rules.ts';

const rack = { rows: 3, columns: 4 };
const read = (text: string) => readPasted(text, rack);

describe('readings that are pasted', () => {
  test.each([
    ['with tabs, as sheets give them', '80\t\t88\t90\n\t180,5'],
    ['with semicolons', '80;;88;90\n;180,5;;'],
    ['with headings', ';1;2;3;4\nA;80;;88;90\nB;;180,5;;'],
  ])('are a line a row %s', (_, text) => {
    expect(read(text)).toEqual({ values: { A1: '80', A3: '88', A4: '90', B2: '180,5' }, fault: null });
  });

  test('are a line a slot in any order, with commas and a heading, dashes not measured', () => {
    expect(read('slot,par\nb2,180.5\nA1,80\nC4,-').values).toEqual({ B2: '180.5', A1: '80' });
    expect(read('A1 80\nB2 90').values).toEqual({ A1: '80', B2: '90' });
  });

  test('go by row letters where those stand beside them', () => {
    expect(read('C\t70\t71\nA\t80\t81').values).toEqual({ C1: '70', C2: '71', A1: '80', A2: '81' });
  });

  test('are nothing where nothing was pasted', () => {
    expect(read(' \n')).toEqual({ values: {}, fault: null });
  });

  test.each([
    ['A1;80\nE1;90', 'Line 2: there is no slot E1 on this rack.'],
    ['A1;80\nA5;90', 'Line 2: there is no slot A5 on this rack.'],
    ['A1;80\na1;90', 'Line 2: A1 is there twice.'],
    ['A1;80\nfoot;9', 'Line 2 does not begin with a slot, like B7.'],
    ['1;2;3;4;5', 'The rack has 3 rows of 4; pasted were 5 cells in line 1.'],
    ['1;2\n1;2\n1;2\n1;2\n', 'pasted were 4 lines'],
  ])('that do not fit are refused with the place: %j', (text, fault) => {
    expect(read(text).fault).toContain(fault);
  });

  test('fill what was not typed, and never overrule what was', () => {
    const pasted = { values: { A1: '80', A2: '90' }, fault: null };
    expect(joinPasted({ A1: '', note: 'x' }, pasted)).toEqual({
      joined: { A1: '80', A2: '90', note: 'x' },
      fault: null,
    });
    const torn = joinPasted({ A1: '70' }, pasted);
    expect(torn.fault).toBe('A1 is typed as 70 and pasted as 80. Leave one of them.');
    expect(torn.joined).toEqual({ A1: '70', A2: '90' });
  });
});
