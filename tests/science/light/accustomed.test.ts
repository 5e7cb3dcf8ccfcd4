import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  accustomedAt,
  accustomedLight,
  daysUntilAccustomed,
  type LightPiece,
} from '../../../src/science/light.ts';
import { published } from '../../support/published.ts';

const response = published(
  'accustomed light',
  'first-order step response, printed 63.2, 86.5, 95.0, 98.2, 99.3 %',
  {
    absolute: 5e-4,
  },
);

const light = fc.double({ min: 0, max: 40, noNaN: true });
const history = fc
  .array(fc.record({ fromDay: fc.double({ min: 0, max: 300, noNaN: true }), dailyLight: light }), {
    minLength: 1,
    maxLength: 10,
  })
  .map((pieces): LightPiece[] => pieces.toSorted((a, b) => a.fromDay - b.fromDay));
const timeConstant = fc.double({ min: 1, max: 60, noNaN: true });

/** The same model by many small steps, as an independent check. */
function byTimeStepping(
  pieces: readonly LightPiece[],
  timeConstantDays: number,
  start: number,
  atDay: number,
) {
  const stepsPerDay = 2000;
  let accustomed = start;
  pieces.forEach((piece, i) => {
    const end = Math.min(atDay, pieces[i + 1]?.fromDay ?? atDay);
    const steps = Math.max(1, Math.round((end - piece.fromDay) * stepsPerDay));
    const dt = (end - piece.fromDay) / steps;
    for (let step = 0; step < steps && dt > 0; step += 1) {
      accustomed += ((piece.dailyLight - accustomed) / timeConstantDays) * dt;
    }
  });
  return accustomed;
}

describe('the light a lot is accustomed to', () => {
  it.each([
    [1, 0.632],
    [2, 0.865],
    [3, 0.95],
    [4, 0.982],
    [5, 0.993],
  ])('has made up after %d time constants %d of a step', (timeConstants, share) => {
    const moved = [{ fromDay: 0, dailyLight: 1 }];
    response.check(accustomedLight(moved, 10, 0, 10 * timeConstants), share);
  });

  it('follows from placement to placement', () => {
    const moves = [
      { fromDay: 0, dailyLight: 3.2 },
      { fromDay: 20, dailyLight: 8.6 },
      { fromDay: 25, dailyLight: 3.2 },
    ];
    const at = (day: number) => accustomedLight(moves, 10, 3.2, day);
    expect(at(20)).toBeCloseTo(3.2, 12);
    expect(at(25)).toBeCloseTo(8.6 - 5.4 * Math.exp(-0.5), 12);
    expect(at(35)).toBeCloseTo(3.2 + (at(25) - 3.2) * Math.exp(-1), 12);
  });

  it('agrees with stepping through time', () => {
    const moves = [
      { fromDay: 1.5, dailyLight: 6 },
      { fromDay: 9, dailyLight: 0 },
      { fromDay: 11, dailyLight: 14 },
    ];
    expect(accustomedLight(moves, 7, 2, 23)).toBeCloseTo(byTimeStepping(moves, 7, 2, 23), 2);
  });

  it('never leaves what the lot has received', () => {
    fc.assert(
      fc.property(history, timeConstant, light, (pieces, tau, start) => {
        const received = [start, ...pieces.map((piece) => piece.dailyLight)];
        const result = accustomedLight(pieces, tau, start, 300);
        expect(result).toBeGreaterThanOrEqual(Math.min(...received) - 1e-9);
        expect(result).toBeLessThanOrEqual(Math.max(...received) + 1e-9);
      }),
    );
  });

  it('is the same whether a piece is written once or cut in two', () => {
    fc.assert(
      fc.property(history, timeConstant, light, (pieces, tau, start) => {
        const cut = pieces.flatMap((piece, i) => {
          const end = pieces[i + 1]?.fromDay ?? 400;
          return [piece, { ...piece, fromDay: (piece.fromDay + end) / 2 }];
        });
        expect(accustomedLight(cut, tau, start, 400)).toBeCloseTo(
          accustomedLight(pieces, tau, start, 400),
          9,
        );
      }),
    );
  });

  it('at many times is the same as at each of them', () => {
    fc.assert(
      fc.property(history, timeConstant, light, (pieces, tau, start) => {
        const days = [300, 310.5, 400];
        const each = days.map((day) => accustomedLight(pieces, tau, start, day));
        accustomedAt(pieces, tau, start, days).forEach((value, i) => {
          expect(value).toBeCloseTo(each[i] ?? Number.NaN, 9);
        });
      }),
    );
  });

  it('without any history is where it started', () => {
    expect(accustomedLight([], 10, 4, 5)).toBe(4);
  });

  it('is refused for a history out of order, a time before it, and values that are no numbers', () => {
    const pieces = [
      { fromDay: 5, dailyLight: 3 },
      { fromDay: 2, dailyLight: 3 },
    ];
    expect(() => accustomedLight(pieces, 10, 3, 9)).toThrow(
      'the light history must be in order of time: 5, 2 d',
    );
    expect(() => accustomedLight([{ fromDay: 5, dailyLight: 3 }], 10, 3, 4)).toThrow('4 d is before 5 d');
    expect(() => accustomedLight([{ fromDay: 5, dailyLight: Number.NaN }], 10, 3, 6)).toThrow(RangeError);
    expect(() => accustomedLight([{ fromDay: Number.NaN, dailyLight: 3 }], 10, 3, 6)).toThrow(RangeError);
    expect(() => accustomedLight([{ fromDay: 5, dailyLight: 3 }], 0, 3, 6)).toThrow(
      'time constant 0 d is outside',
    );
  });
});

describe('the days until a lot is accustomed', () => {
  it('are those after which the model says so', () => {
    const days = daysUntilAccustomed(3.2, 8.6, 10, 0.05);
    expect(accustomedLight([{ fromDay: 0, dailyLight: 8.6 }], 10, 3.2, days)).toBeCloseTo(8.6 * 0.95, 9);
    expect(daysUntilAccustomed(8.5, 8.6, 10, 0.05)).toBe(0);
    expect(daysUntilAccustomed(8.6, 8.6, 10, 0.05)).toBe(0);
  });
});
