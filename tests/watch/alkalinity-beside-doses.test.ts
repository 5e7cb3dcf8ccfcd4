import { describe, expect, test } from 'vitest';
import { convertDifference } from '../../src/science/units/convert.ts';
import type { DoseFact, SystemFacts } from '../../src/watch/facts/types.ts';
import { alkalinityUnsteady } from '../../src/watch/rules/alkalinity/alkalinity-unsteady.ts';
import { alkalinityWorld } from '../science/worlds.ts';
import { blankSystem, dose, find, firing, reading } from './facts.ts';

// What is dosed moves a level by as much as it is (mass balance), so what stands in the log is no unrest of the water.

const dkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
const seeds = Array.from({ length: 10 }, (_, i) => i + 301);
const usual = 0.4;
const asked = [206, 210, 214, 218, 222];

interface Dosing {
  /** dKH given on a day, and what the log has of it; null for no line. */
  given?: (day: number) => number;
  logged?: (day: number) => number | null;
  factor?: number;
}

/** Water that uses 0.4 dKH a day, tested each morning and dosed each evening. */
function dosed(
  seed: number,
  { given = () => usual, logged = given, factor = 1 }: Dosing,
  until: number,
): SystemFacts {
  const days = Array.from({ length: until + 1 }, (_, day) => day);
  let moved = 0;
  const before = days.map((day) => {
    moved += given(day - 1) - usual;
    return moved;
  });
  const doses: DoseFact[] = days.flatMap((day) => {
    const rise = logged(day);
    return rise === null || day + 0.9 > until ? [] : [dose(day + 0.9, 'alkalinity', rise * dkh)];
  });
  const readings = alkalinityWorld({ seed, days: 240, onset: factor === 1 ? 999 : 180, factor })
    .filter(({ day }) => day <= until)
    .map(({ day, value, sd }) =>
      reading(day + 0.35, (value + (before[day] ?? 0)) * dkh, sd * dkh, { kitId: 'kit' }),
    );
  return blankSystem({ readings: new Map([['alkalinity', readings]]), doses });
}

const told = (dosing: Dosing, days = asked) =>
  seeds.flatMap((seed) =>
    days.filter(
      (day) => firing(find(alkalinityUnsteady, dosed(seed, dosing, day + 0.5), day + 0.5)).length > 0,
    ),
  ).length;

/** Turned up for a week, stopped for four days, then as before. */
const turned = (day: number) => (day >= 198 && day < 205 ? 0.55 : day >= 205 && day < 209 ? 0.1 : usual);

describe('the rule on unsteady alkalinity, beside what was dosed', () => {
  test('is silent where a doser was turned up and down and the log says so', () => {
    expect(told({ given: turned, logged: () => usual })).toBeGreaterThan(15);
    expect(told({ given: turned })).toBeLessThanOrEqual(3);
  });

  test('is silent after a dose by hand that stands in the log', () => {
    const byHand = (day: number) => usual + (day === 200 ? 1.2 : day === 207 ? -1.2 : 0);
    expect(told({ given: byHand, logged: () => usual }, [206, 210])).toBeGreaterThan(10);
    expect(told({ given: byHand }, [206, 210])).toBeLessThanOrEqual(2);
  });

  test('tells a swing that is not of what was dosed', () => {
    expect(told({ given: turned, factor: 3 })).toBeGreaterThan(25);
  });

  test('tells no swing of steady water whose log ends, or has a dose that never went in', () => {
    expect(told({ logged: (day) => (day < 202 ? usual : null) })).toBeLessThanOrEqual(3);
    expect(told({ logged: (day) => (day === 203 ? 2 : usual) })).toBeLessThanOrEqual(3);
  });

  test('says of a move that some of it was dosed', () => {
    const facts = seeds.flatMap((seed) =>
      asked.flatMap((day) =>
        firing(find(alkalinityUnsteady, dosed(seed, { given: turned, factor: 3 }, day + 0.5), day + 0.5)),
      ),
    );
    expect(facts.some(({ numbers }) => numbers.includes('in seven days beside what was put in'))).toBe(true);
  });
});
