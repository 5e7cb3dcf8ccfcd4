import { describe, expect, test } from 'vitest';
import { factorDoubt, medianRatio } from '../../src/farm/surveys/comparison.rules.ts';
import {
  extrapolatedSlots,
  krigeLight,
  slotPitch,
  slotsToMeasure,
  surveyAccuracy,
} from '../../src/farm/surveys/light-map.rules.ts';
import { correctedPar } from '../../src/farm/surveys/meter.rules.ts';

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

describe('which estimates of a survey hold', () => {
  const light = (par: number, error: number, measured = false) => ({ par, error, measured });
  // A square of measured corners, 3 x 3; each case is one further slot.
  const corners = [
    { id: 'A1', row: 1, column: 1, light: light(100, 3, true) },
    { id: 'A3', row: 1, column: 3, light: light(100, 3, true) },
    { id: 'C1', row: 3, column: 1, light: light(100, 3, true) },
    { id: 'C3', row: 3, column: 3, light: light(100, 3, true) },
  ];
  test.each([
    ['between the readings, surely known', { row: 2, column: 2, light: light(100, 25) }, false],
    ['between them, but known to less than a quarter', { row: 2, column: 2, light: light(100, 26) }, true],
    ['on the edge of the readings', { row: 1, column: 2, light: light(100, 5) }, false],
    ['outside them', { row: 2, column: 4, light: light(100, 5) }, true],
    ['outside them but measured', { row: 2, column: 4, light: light(100, 60, true) }, false],
    ['never estimated', { row: 2, column: 4, light: null }, false],
  ])('%s', (_, slot, extrapolated) => {
    expect(extrapolatedSlots([...corners, { id: 'X', ...slot }]).has('X')).toBe(extrapolated);
  });

  test('distances are millimetres only when both sides of a slot are known', () => {
    expect(slotPitch({ slotWidthMm: 60, slotDepthMm: 45 })).toEqual({ x: 60, y: 45 });
    expect(slotPitch({ slotWidthMm: 60, slotDepthMm: null })).toEqual({ x: 1, y: 1 });
  });

  test('at most five slots without a reading are suggested, and none once all are read', () => {
    const slots = Array.from({ length: 9 }, (_, i) => ({ slotId: `s${i + 1}`, row: 1, column: i + 1 }));
    const read = (count: number) => slots.slice(0, count).map((slot) => ({ ...slot, par: 100 }));
    const next = (count: number) => slotsToMeasure(read(count), slots, { x: 1, y: 1 });
    expect(next(1)).toHaveLength(5);
    expect(next(1)).not.toContain('s1');
    // The first one lies in the half that no reading reaches.
    expect(Number(next(1)[0]?.slice(1))).toBeGreaterThan(5);
    expect(next(7).toSorted()).toEqual(['s8', 's9']);
    expect(next(9)).toEqual([]);
  });

  test('without readings nothing is known of the accuracy', () => {
    expect(surveyAccuracy([], { x: 1, y: 1 })).toEqual({ leaveOneOut: null, basis: 'assumed' });
  });
});
