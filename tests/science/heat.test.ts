import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { heatStressByDay, hotspotDegC } from '../../src/science/heat.ts';
import { num, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

const paper = published(
  'degree heating weeks, worked examples',
  'Skirving et al. 2020; NOAA Science On a Sphere',
  1e-12,
);
const season = published(
  'degree heating weeks, a season',
  'Skirving et al. 2020 definition, exact fractions',
  { absolute: 1e-6 },
);
const spots = published('HotSpots, a season', 'Skirving et al. 2020 definition', { absolute: 1e-6 });

const MMM = 28;

/** Daily temperatures of a case written "1.0|2.0|0.8" or "14 x 1.0". */
function daysOf(hotspots: string): number[] {
  const repeated = /^(\d+) x ([\d.]+)$/.exec(hotspots);
  const values = repeated
    ? Array<number>(Number(repeated[1])).fill(Number(repeated[2]))
    : hotspots.split('|').map(Number);
  return values.map((hotspot) => MMM + hotspot);
}

describe('degree heating weeks', () => {
  it.each(referenceTable('coral_dhw_worked_examples'))('$case: $DHW_computed', (row) => {
    const days = daysOf(text(row, 'daily_hotspots'));
    const last = heatStressByDay(days, MMM).at(-1)?.degreeHeatingWeeks ?? Number.NaN;
    const expected = text(row, 'DHW_published') === '' ? num(row, 'DHW_computed') : num(row, 'DHW_published');
    paper.check(last, expected);
  });

  it('follow a season day by day', () => {
    const rows = referenceTable('coral_dhw_series');
    const result = heatStressByDay(
      rows.map((row) => num(row, 'sst_Cel')),
      MMM,
    );
    rows.forEach((row, day) => {
      spots.check(result[day]?.hotspotDegC ?? Number.NaN, num(row, 'hotspot_Cel'));
      season.check(result[day]?.degreeHeatingWeeks ?? Number.NaN, num(row, 'DHW'));
    });
  });

  it('are a lower bound where days are missing, and say how many', () => {
    const days = [29, 29, null, 29, null];
    const last = heatStressByDay(days, MMM).at(-1);
    expect(last).toEqual({ hotspotDegC: null, degreeHeatingWeeks: 3 / 7, missingDays: 2 });
    expect(heatStressByDay([29, 29, 29, 29, 29], MMM).at(-1)?.degreeHeatingWeeks).toBeGreaterThan(3 / 7);
  });

  it('count a HotSpot of 1 that rounding would lose', () => {
    expect(29.3 - 28.3).toBeLessThan(1.0000000001);
    expect(heatStressByDay([28.1 + 1], 28.1)[0]?.degreeHeatingWeeks).toBeCloseTo(1 / 7, 9);
  });

  it('never fall by more than what leaves the window, and rise with temperature', () => {
    const days = fc.array(fc.double({ min: 26, max: 32, noNaN: true }), { minLength: 1, maxLength: 120 });
    fc.assert(
      fc.property(days, (series) => {
        const cool = heatStressByDay(series, MMM);
        const warm = heatStressByDay(
          series.map((degC) => degC + 0.5),
          MMM,
        );
        cool.forEach((day, i) => {
          expect(warm[i]?.degreeHeatingWeeks ?? 0).toBeGreaterThanOrEqual(day.degreeHeatingWeeks);
        });
      }),
    );
  });

  it('are refused for a temperature that is none', () => {
    expect(() => heatStressByDay([Number.NaN], MMM)).toThrow('temperature NaN degC is outside 0 to 45 degC');
    expect(() => hotspotDegC(28, 5)).toThrow('warmest monthly mean 5 degC');
  });
});
