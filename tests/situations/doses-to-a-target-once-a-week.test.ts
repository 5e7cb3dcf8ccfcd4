import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import type { SystemFacts } from '../../src/watch/facts/types.ts';
import { alkalinityUnsteady } from '../../src/watch/rules/alkalinity/alkalinity-unsteady.ts';
import { calciumAlkalinity } from '../../src/watch/rules/demand/calcium-alkalinity.ts';
import { demandChanged } from '../../src/watch/rules/demand/demand-changed.ts';
import { readingsAtOnePhase } from '../../src/water/demand/usable-readings.rules.ts';
import { caps } from '../../src/water/dosing/substances.rules.ts';
import { dkh, dose } from '../watch/demand-worlds.ts';
import { blankSystem, find, firing, reading } from '../watch/facts.ts';

// A shop's method: once a week dose up to 8.5 dKH and 450 mg/L of calcium. Before the dose they usually read 6.8 to 7.3
// dKH and 370 to 400 mg/L; a higher reading is their sign that light or health has fallen off. The fall of 1.2 to 1.7 dKH
// should cost 8.6 to 12.2 mg/L of calcium, not 50 to 80.

/** So many weeks of it; `before`: what is read before the dose in each week. */
function weeks(
  before: (week: number) => number,
  count: number,
  calciumBefore?: (week: number) => number,
): SystemFacts {
  const week = Array.from({ length: count }, (_, i) => i);
  const pre = week.map(before);
  const calcium = calciumBefore === undefined ? [] : week.map(calciumBefore);
  return blankSystem({
    readings: new Map([
      [
        'alkalinity',
        week.map((i) => reading(7 * i + 0.375, (pre[i] ?? 7) * dkh, 0.15 * dkh, { kitId: 'kit' })),
      ],
      ['calcium', calcium.map((value, i) => reading(7 * i + 0.375, value, 10, { kitId: 'ca' }))],
    ]),
    doses: [
      ...week.map((i) => dose(7 * i + 0.4, 'alkalinity', (8.5 - (pre[i] ?? 7)) * dkh)),
      ...calcium.map((value, i) => dose(7 * i + 0.4, 'calcium', 450 - value)),
    ],
  });
}

const random = seededRandom(6);
const usual = Array.from({ length: 60 }, () => 6.8 + 0.5 * random.uniform());
const usualWeek = (week: number) => usual[week] ?? 7;

describe('doses to a target once a week', () => {
  test('make a saw-tooth that is no alarm', () => {
    const facts = weeks(usualWeek, 40);
    for (const day of [27 * 7 + 1, 32 * 7 + 1, 39 * 7 + 1]) {
      const known = { ...weeks(usualWeek, Math.ceil(day / 7)) };
      expect(firing(find(demandChanged, known, day))).toEqual([]);
    }
    expect(firing(find(alkalinityUnsteady, facts, 39 * 7 + 1))).toEqual([]);
  });

  test('raise an alarm when the reading before the dose drifts up, since less is used', () => {
    const drifting = (week: number) => (week < 28 ? usualWeek(week) : 7.8);
    const [finding] = find(demandChanged, weeks(drifting, 34), 33 * 7 + 1);
    expect(finding?.status).toBe('fires');
    expect(finding?.title).toMatch(/alkalinity use fell by [4-6]\d %/);
  });

  test('raise one when it drifts down, since more is used', () => {
    const drifting = (week: number) => (week < 28 ? usualWeek(week) : 5.6);
    const [finding] = find(demandChanged, weeks(drifting, 33), 32 * 7 + 1);
    expect(finding?.status).toBe('fires');
    expect(finding?.title).toMatch(/beyond growth$/);
    // What was told stays told a week later.
    expect(find(demandChanged, weeks(drifting, 34), 33 * 7 + 1)[0]?.status).toMatch(/^(fires|stays)$/);
  });

  test('show calcium used four to nine times as fast as the alkalinity explains', () => {
    const facts = weeks(usualWeek, 20, (week) => 370 + ((week * 7) % 30));
    const [finding] = find(calciumAlkalinity, facts, 19 * 7 + 1);
    expect(finding?.status).toBe('fires');
    expect(Number(/used (\d) times/.exec(finding?.title ?? '')?.[1])).toBeGreaterThanOrEqual(4);
    expect(Number(/used (\d) times/.exec(finding?.title ?? '')?.[1])).toBeLessThanOrEqual(9);
    expect(finding?.why).toMatch(/at another hour/);
  });

  test('are compared in like phase: readings before the dose with one another', () => {
    const phases = [0, 7, 14, 21].flatMap((day) => [
      { day: day + 0.375, u: 0.05, value: 7 },
      { day: day + 0.7, u: 0.05, value: 8.5 },
    ]);
    const doses = [0, 7, 14, 21].map((day) => ({ day: day + 0.4, rise: 1.5 }));
    const alike = readingsAtOnePhase([...phases, { day: 27.9, u: 0.05, value: 7 }], doses);
    expect(alike.map(({ value }) => value)).toEqual([7, 7, 7, 7, 7]);
  });

  test('lift alkalinity by more than a day may, which the daily cap says', () => {
    expect(1.2 * dkh).toBeGreaterThan(caps.alkalinity.usual);
  });
});
