import { describe, expect, test } from 'vitest';
import { lampEffect } from '../../src/racks/lamp-effect/lamp-effect.rules.ts';
import { lampEffectRows } from '../../src/racks/lamp-effect/lamp-effect-rows.rules.ts';

describe('the effect of a new lamp setting', () => {
  test('turning lamps over nobody, over dark and over mixed lots is told apart', () => {
    const lot = (after: number) => ({
      now: { par: 80, parMax: 80, dli: 2 },
      after: { par: 40 * after, parMax: 40 * after, dli: after },
      accustomed: 2,
      isAccustomed: true,
      stepRatio: 1.5,
      parCeiling: null,
    });
    expect(lampEffect([], 50).sentences).toEqual(['No lots are under these lamps.']);
    expect(lampEffect([lot(2), lot(3)], 50).sentences[0]).toBe(
      '2 lots under them get 1 to 1.5 times the daily light they have now.',
    );
    expect(lampEffect([lot(2)], 50).sentences[0]).toBe('1 lot under them gets the same daily light as now.');
    expect(lampEffect([{ ...lot(2), now: { par: 0, parMax: 0, dli: 0 } }], 50).sentences[0]).toContain(
      'light where there is none now',
    );
    expect(lampEffect([lot(3)], 50).risk).toBeNull();
    expect(lampEffect([lot(4)], 60).risk).toContain('up to 45 %');
    const capped = lampEffect([{ ...lot(3), parCeiling: 100 }], 60).risk;
    expect(capped).toContain('1 lot gets more than its kind can ever take');
    expect(capped).toContain('up to 50 %');
  });

  test('each lot beneath is told what a turn does to it, those it harms first', () => {
    const lot = (code: string, after: number, more: object = {}) => ({
      ...{
        code,
        kind: 'Brain coral',
        place: 'Rack, A1',
        accustomed: 2,
        isAccustomed: true,
        stepRatio: 1.2,
        parCeiling: null,
      },
      ...{ parLow: null, now: { par: 80, parMax: 80, dli: 2 } },
      after: { par: 40 * after, parMax: 40 * after, dli: after },
      ...more,
    });
    const dark = { now: null, after: null };
    const rows = lampEffectRows([
      lot('WELL', 2.2),
      lot('DARK', 2, dark),
      lot('FAR', 3),
      lot('HIGH', 2.1, { parCeiling: 80 }),
      lot('DIM', 1, { parLow: 50 }),
    ]);
    expect(rows.map(({ code, grave, against }) => [code, grave, against])).toEqual([
      ['HIGH', true, 'above 80, the most its kind can take'],
      ['FAR', true, 'its kind takes 1.2 times in one step'],
      ['WELL', false, ''],
      ['DIM', false, 'less than the 50 its kind is kept at'],
      ['DARK', false, 'its light was never measured'],
    ]);
    expect(rows[1]).toMatchObject({ from: '80', to: '120', ofUsed: '1.5 times' });
  });
});
