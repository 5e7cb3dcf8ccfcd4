import { describe, expect, it } from 'vitest';
import { hullOf, isWithinHull } from '../../src/science/kriging/hull.ts';
import {
  lightField,
  nextReadings,
  ordinaryKriging,
  type Site,
  type Variogram,
} from '../../src/science/kriging.ts';
import { num, referenceTable } from '../support/csv.ts';
import { onSites, onThirtyRacks } from './lamp-fields.ts';

describe('kriging against inverse distance, on readings that were withheld', () => {
  it('is off by little more than half as much on racks under lamps', () => {
    const { kriging, inverseDistance, smaller, wins } = onThirtyRacks();
    expect(wins).toBeGreaterThanOrEqual(28);
    expect(smaller).toBeGreaterThan(0.4);
    expect(kriging).toBeLessThan(0.65 * inverseDistance);
  });

  it('is closer on the zinc of the Meuse (Rikken & Van Rijn 1993), each site withheld in turn', () => {
    const meuse = referenceTable('kriging_meuse_data').map((row) => ({
      x: num(row, 'x'),
      y: num(row, 'y'),
      value: num(row, 'log_zinc'),
    }));
    // The variogram that the reference rows were made with.
    const variogram: Variogram = { shape: 'spherical', nugget: 0.05, sill: 0.59, range: 897 };
    const { kriging, inverseDistance } = onSites(meuse, variogram);
    expect(kriging).toBeLessThan(0.97 * inverseDistance);
  });
});

describe('the hull of the readings', () => {
  const square = [
    { x: 0, y: 0 },
    { x: 2, y: 0 },
    { x: 2, y: 2 },
    { x: 0, y: 2 },
    { x: 1, y: 1 },
  ];

  it('holds its corners, its edges and what lies within', () => {
    const hull = hullOf(square);
    expect(hull).toHaveLength(4);
    for (const place of [...square, { x: 1, y: 0 }]) expect(isWithinHull(place, hull)).toBe(true);
    expect(isWithinHull({ x: 2.01, y: 1 }, hull)).toBe(false);
  });

  it('cuts corners off that the box around the readings would keep', () => {
    const [a, b, c] = [
      { x: 0, y: 0 },
      { x: 4, y: 0 },
      { x: 0, y: 4 },
    ];
    const readings: Site[] = [a, b, c].map((place, i) => ({ ...place, value: 100 + 20 * i }));
    expect(lightField(readings).at({ x: 1, y: 1 }).basis).toBe('between readings');
    expect(lightField(readings).at({ x: 3.5, y: 3.5 }).basis).toBe('outside the readings');
  });

  it('of readings on one line is that line', () => {
    const hull = hullOf([
      { x: 0, y: 1 },
      { x: 2, y: 1 },
      { x: 4, y: 1 },
    ]);
    expect(isWithinHull({ x: 3, y: 1 }, hull)).toBe(true);
    expect(isWithinHull({ x: 3, y: 2 }, hull)).toBe(false);
    expect(isWithinHull({ x: 5, y: 1 }, hull)).toBe(false);
  });
});

describe('where to measure next', () => {
  const places = Array.from({ length: 5 * 8 }, (_, i) => ({ x: i % 8, y: Math.floor(i / 8) }));
  const readings: Site[] = [
    { x: 0, y: 0, value: 80 },
    { x: 1, y: 3, value: 120 },
    { x: 2, y: 1, value: 150 },
    { x: 3, y: 4, value: 90 },
  ];
  const assumed: Variogram = {
    shape: 'exponential',
    nugget: 0,
    // The variance of the readings and half their longest distance, as lightField assumes with so few.
    sill: 1000,
    range: 2.5,
  };
  const meanVariance = (sites: readonly Site[]) => {
    const kriging = ordinaryKriging(sites, assumed);
    return places.reduce((sum, place) => sum + kriging.at(place).variance, 0) / places.length;
  };

  it('names the slot that trying all of them finds best, with the variance that is then left', () => {
    const [next] = nextReadings(readings, places, 1);
    const tried = places
      .filter((place) => !readings.some((one) => one.x === place.x && one.y === place.y))
      .map((place) => ({ place, left: meanVariance([...readings, { ...place, value: 0 }]) }))
      .sort((a, b) => a.left - b.left);
    expect(places[next?.index ?? -1]).toEqual(tried[0]?.place);
    expect(next?.meanVariance).toBeCloseTo(tried[0]?.left ?? 0, 6);
  });

  it('leaves less variance with each, and names none twice nor one that is read', () => {
    const next = nextReadings(readings, places, 6);
    const variances = [meanVariance(readings), ...next.map((one) => one.meanVariance)];
    expect(variances).toEqual([...variances].sort((a, b) => b - a));
    const named = next.map(({ index }) => places[index]);
    expect(new Set(named).size).toBe(6);
    for (const one of readings) expect(named).not.toContainEqual({ x: one.x, y: one.y });
  });

  it('spreads the first readings where nothing was ever measured', () => {
    const next = nextReadings([], places, 5).map(({ index }) => places[index]?.x ?? -1);
    expect(Math.max(...next) - Math.min(...next)).toBeGreaterThanOrEqual(4);
  });

  it('has nothing to name when every slot is read', () => {
    const all = places.map((place, i) => ({ ...place, value: 100 + (i % 7) }));
    expect(nextReadings(all, places, 3)).toEqual([]);
  });
});
