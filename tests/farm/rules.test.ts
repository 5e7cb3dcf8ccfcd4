import { describe, expect, test } from 'vitest';
import { fullLightHours, settingRatio } from '../../src/farm/light/lamp-settings.rules.ts';
import { lightAt, type SlotLightHistory } from '../../src/farm/light/slot-light.rules.ts';
import { factorDoubt, medianRatio } from '../../src/farm/surveys/comparison.rules.ts';
import { krigeLight } from '../../src/farm/surveys/light-map.rules.ts';
import { correctedPar } from '../../src/farm/surveys/meter.rules.ts';
import { turnEffect } from '../../src/racks/lamp-effect/lamp-effect.rules.ts';
import { turnRows } from '../../src/racks/lamp-effect/lamp-effect-rows.rules.ts';
import { moveMeaning, suits } from '../../src/racks/moves/effects.rules.ts';
import { lightSentences } from '../../src/racks/rack-page/light.ts';

describe('the light of a day', () => {
  test.each([
    [10, 0],
    [10, 2],
    [12, 1.5],
    [8, 4],
  ])(
    '%d h with ramps of %d h: the hours of full light are the area under the whole schedule',
    (litHours, rampHours) => {
      const corners = [
        [0, rampHours === 0 ? 1 : 0],
        [rampHours, 1],
        [litHours - rampHours, 1],
        [litHours, rampHours === 0 ? 1 : 0],
      ] as const;
      const whole = corners.slice(1).reduce((area, [hour, light], i) => {
        const [before, lightBefore] = corners[i] ?? [0, 0];
        return area + ((hour - before) * (light + lightBefore)) / 2;
      }, 0);
      expect(fullLightHours({ litHours, rampHours })).toBeCloseTo(whole, 10);
    },
  );

  test('lamps that are off give no light, and what is not known scales nothing', () => {
    expect(settingRatio(60, 0)).toBe(0);
    expect(settingRatio(null, 80)).toBe(1);
    expect(settingRatio(60, null)).toBe(1);
    const at = new Date('2026-03-01');
    const history: SlotLightHistory = {
      slotId: 's',
      rackId: 'r',
      surveys: [{ at: new Date('2026-01-01'), percent: 60, par: 100, error: 5 }],
      settings: [{ at: new Date('2026-02-01'), percent: 0, litHours: 10, rampHours: 1 }],
      hours: { litHours: 10, rampHours: 1 },
    };
    expect(lightAt(history, at)).toEqual({ par: 0, dli: 0, error: 0, estimated: true });
  });
});

describe('a light survey', () => {
  // Raw 180: 225 with 1.25, 238 with 1.32 (arithmetic; 1.25 from a maker's manual, 1.32 from memory).
  test('applies the factor once or not at all', () => {
    const shown = (immersionFactor: number, factorInMeter = false) =>
      correctedPar(180, { immersionFactor, factorInMeter });
    expect(shown(1.25)).toBe(225);
    expect(Math.round(shown(1.32))).toBe(238);
    expect(shown(1.25, true)).toBe(180);
  });

  test('of an even field tells the same light everywhere, and keeps every reading as it was', () => {
    const cells = [1, 2, 3, 4].map((column) => ({ slotId: `s${column}`, row: 1, column }));
    const even = krigeLight(
      cells.slice(0, 3).map((cell) => ({ ...cell, par: 100 })),
      cells,
      { x: 1, y: 1 },
    );
    expect(even.map((slot) => slot.par)).toEqual([100, 100, 100, 100]);
    expect(even.map((slot) => slot.measured)).toEqual([true, true, true, false]);
    const steep = krigeLight(
      cells.slice(0, 3).map((cell, i) => ({ ...cell, par: 50 * (i + 1) })),
      cells,
      { x: 1, y: 1 },
    );
    expect(steep.slice(0, 3).map((slot) => slot.par)).toEqual([50, 100, 150]);
    expect(steep[3]?.error).toBeGreaterThan(steep[2]?.error ?? 0);
  });

  test('is doubted only where it differs by the factor itself', () => {
    expect(factorDoubt(1.25, 1.25)).toContain('applied twice');
    expect(factorDoubt(0.8, 1.25)).toContain('whether it was applied at all');
    for (const ratio of [1, 1.1, 1.4, 0.9, null]) expect(factorDoubt(ratio, 1.25)).toBeNull();
    expect(factorDoubt(1.0, 1.0)).toBeNull();
    expect(
      medianRatio([
        { before: 100, now: 120 },
        { before: 100, now: 130 },
        { before: 0, now: 9 },
      ]),
    ).toBeCloseTo(1.25, 10);
  });
});

describe('sentences on light', () => {
  const light = {
    surveyId: 's',
    measuredAt: new Date('2026-11-03T10:00:00Z'),
    readings: 14,
    surveyPercent: 80,
    widestError: 3,
    lampPercent: 80,
    lampSetAt: new Date('2026-01-01T00:00:00Z'),
    moved: false,
    movedAt: null,
    deeperMm: 0,
    otherLamp: false,
  };
  test('tell when, at how many slots, to within what, and whether the lamps were turned since', () => {
    expect(lightSentences(light, 'UTC')).toEqual([
      'Light measured on 3 Nov 2026 at 14 slots, lamps at 80 %; between them estimated to within 6.',
    ]);
    const turned = { ...light, lampPercent: 95, lampSetAt: new Date('2026-11-18T09:00:00Z') };
    expect(lightSentences(turned, 'UTC')[1]).toBe(
      'Lamps were turned to 95 % on 18 Nov 2026: the numbers below are scaled and want measuring again.',
    );
    expect(lightSentences({ ...turned, lampPercent: 30 }, 'UTC')[2]).toContain('a rough guess');
    expect(lightSentences(null, 'UTC')[0]).toContain('never measured');
  });

  test('turning lamps over nobody, over dark and over mixed lots is told apart', () => {
    const lot = (after: number) => ({
      now: { par: 80, parMax: 80, dli: 2 },
      after: { par: 40 * after, parMax: 40 * after, dli: after },
      accustomed: 2,
      stepRatio: 1.5,
      parCeiling: null,
    });
    expect(turnEffect([], 50).sentences).toEqual(['No lots stand beneath these lamps.']);
    expect(turnEffect([lot(2), lot(3)], 50).sentences[0]).toBe(
      '2 lots beneath get 1 to 1.5 times the daily light they have now.',
    );
    expect(turnEffect([lot(2)], 50).sentences[0]).toBe('1 lot beneath gets the same daily light as now.');
    expect(turnEffect([{ ...lot(2), now: { par: 0, parMax: 0, dli: 0 } }], 50).sentences[0]).toContain(
      'light where there is none now',
    );
    expect(turnEffect([lot(3)], 50).risk).toBeNull();
    expect(turnEffect([lot(4)], 60).risk).toContain('up to 45 %');
    const capped = turnEffect([{ ...lot(3), parCeiling: 100 }], 60).risk;
    expect(capped).toContain('1 lot gets more than its kind bears at all');
    expect(capped).toContain('up to 50 %');
  });

  test('each lot beneath is told what a turn does to it, those it harms first', () => {
    const lot = (code: string, after: number, more: object = {}) => ({
      ...{ code, kind: 'Brain coral', place: 'Rack, A1', accustomed: 2, stepRatio: 1.2, parCeiling: null },
      ...{ parLow: null, now: { par: 80, parMax: 80, dli: 2 } },
      after: { par: 40 * after, parMax: 40 * after, dli: after },
      ...more,
    });
    const dark = { now: null, after: null };
    const rows = turnRows([
      lot('WELL', 2.2),
      lot('DARK', 2, dark),
      lot('FAR', 3),
      lot('HIGH', 2.1, { parCeiling: 80 }),
      lot('DIM', 1, { parLow: 50 }),
    ]);
    expect(rows.map(({ code, grave, against }) => [code, grave, against])).toEqual([
      ['HIGH', true, 'above the 80 its kind bears at all'],
      ['FAR', true, 'its kind takes 1.2 times in one step'],
      ['WELL', false, ''],
      ['DIM', false, 'less than the 50 its kind is kept at'],
      ['DARK', false, 'its light was never measured'],
    ]);
    expect(rows[1]).toMatchObject({ from: '80', to: '120', ofUsed: '1.5 times' });
  });
});

describe('a place for a lot', () => {
  const habit = {
    ...{ adaptationDays: 10, stepRatio: 1.2, parLow: 50, parHigh: 120, parCeiling: 150 },
    ...{ flowLow: 1, flowHigh: 2, jet: 'never on flesh', base: null, reachMm: 50, accustomed: 2 },
  };
  const place = (par: number, dli: number) => ({
    light: { par, error: 3, dli, measured: true, estimated: false },
    flow: 'low' as const,
    jet: false,
  });
  test('suits when light and flow are known and nothing speaks against it', () => {
    expect(suits(place(80, 2.4), habit)).toBe(true);
    expect(suits(place(80, 2.5), habit)).toBe(false);
    expect(suits(place(40, 1), habit)).toBe(false);
    expect(suits({ ...place(80, 2), jet: true }, habit)).toBe(false);
    expect(suits({ ...place(80, 2), flow: 'high' }, habit)).toBe(false);
    expect(suits({ ...place(80, 2), light: null }, habit)).toBe(false);
  });
  test('says so where nothing is known of what it is used to, or the light there is scaled', () => {
    const unknown = moveMeaning(null, place(80, 2.4), { ...habit, accustomed: null });
    expect(unknown.statements[0]).toBe('Light: 80 µmol/(m² s). What it is used to is not known.');
    const scaled = place(80, 2);
    const said = moveMeaning(null, { ...scaled, light: { ...scaled.light, estimated: true } }, habit);
    expect(said.statements[1]).toContain('wants measuring again');
  });
});
