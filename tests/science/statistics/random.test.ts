import { describe, expect, it } from 'vitest';
import { chiSquareTail } from '../../../src/science/statistics/chi-square.ts';
import { seededRandom, shuffleFirst } from '../../../src/science/statistics/random.ts';

const DRAWS = 20_000;
const draws = (seed: number) => {
  const random = seededRandom(seed);
  return Array.from({ length: DRAWS }, () => random.uniform());
};

describe('seeded random numbers', () => {
  it('repeat for the same seed and differ for another', () => {
    expect(draws(7).slice(0, 20)).toEqual(draws(7).slice(0, 20));
    expect(draws(7)[0]).not.toBe(draws(8)[0]);
    expect(draws(2 ** 40)[0]).not.toBe(draws(0)[0]);
  });

  it('are uniform by the chi-square test (Knuth, The Art of Computer Programming 2, 3.3.1)', () => {
    const counts = new Array(20).fill(0);
    for (const u of draws(1)) counts[Math.floor(u * 20)] += 1;
    const expected = DRAWS / 20;
    const chiSquare = counts.reduce((sum, count) => sum + (count - expected) ** 2 / expected, 0);
    expect(chiSquareTail(chiSquare, 19)).toBeGreaterThan(0.001);
    expect(chiSquareTail(chiSquare, 19)).toBeLessThan(0.999);
  });

  it('are not correlated from one draw to the next', () => {
    const u = draws(3).map((x) => x - 0.5);
    const sum = u.slice(1).reduce((total, x, i) => total + x * (u[i] ?? 0), 0);
    expect(Math.abs((12 * sum) / DRAWS)).toBeLessThan(4 / Math.sqrt(DRAWS));
  });

  it('give a normal variable its mean, variance and kurtosis', () => {
    const random = seededRandom(11);
    const z = Array.from({ length: DRAWS }, () => random.normal());
    const moment = (power: number) => z.reduce((sum, x) => sum + x ** power, 0) / DRAWS;
    expect(moment(1)).toBeCloseTo(0, 1);
    expect(moment(2)).toBeCloseTo(1, 1);
    expect(moment(4) / 3).toBeCloseTo(1, 0);
  });

  it('shuffle so that every item is chosen equally often', () => {
    const random = seededRandom(5);
    const chosen = new Array(10).fill(0);
    for (let i = 0; i < 5000; i++) {
      const items = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9];
      shuffleFirst(items, 3, random);
      expect(new Set(items).size).toBe(10);
      for (const item of items.slice(0, 3)) chosen[item] += 1;
    }
    for (const count of chosen) expect(Math.abs(count - 1500)).toBeLessThan(4 * Math.sqrt(5000 * 0.3 * 0.7));
  });
});
