import { describe, expect, test } from 'vitest';
import { type ClockFacts, clockOf, daysAt } from '../../src/stock/pests/clock.rules.ts';
import { pestOf } from '../../src/stock/pests/pests.rules.ts';

// Acropora-eating flatworm: eggs hatch after 11 d at 27 degC on average, minimum generation 38 d at 27 degC and 64 d at
// 24 degC ("The Life Cycle of the Acropora Coral-Eating Flatworm", Front. Mar. Sci. 6 (2019) 524, abstract). Days between
// are a linear rate, worked out by hand: 1/64 + (t - 24)/3 (1/38 - 1/64). Porites-eating slug: hatches about day 7, drifts
// 3-4 d, lays ten days later (museum fact sheet on Phestilla minor).

const flatworm = pestOf('acropora_flatworm');
const start = new Date('2026-10-01T08:00:00Z');
const later = (days: number) => new Date(start.getTime() + days * 86_400_000);
const at = (degC: number, days = 90) =>
  Array.from({ length: days }, (_, day) => ({ at: later(day - 1), degC }));

const facts: ClockFacts = {
  openedAt: start,
  sightings: [start],
  arrivals: [],
  looks: [],
  treatments: [],
  temperatures: at(27),
};
const clock = (more: Partial<ClockFacts> = {}, pest = flatworm) => clockOf(pest, { ...facts, ...more });

describe('days by temperature', () => {
  test.each([
    [24, 64],
    [25, 52],
    [25.5, 48],
    [26, 44],
    [27, 38],
  ])('at %s degC the flatworm takes %s days, by a linear rate between what is published', (degC, days) => {
    expect(Math.round(daysAt(flatworm.cycle, degC) ?? 0)).toBe(days);
  });

  test.each([20, 23.9, 27.1, 28.5, 31])('at %s degC they are not known', (degC) => {
    expect(daysAt(flatworm.cycle, degC)).toBeNull();
  });

  test('a figure without a temperature holds at any, and none is none', () => {
    expect(daysAt(pestOf('porites_slug').cycle, 26)).toBe(20);
    expect(daysAt(pestOf('montipora_slug').cycle, 26)).toBeNull();
  });

  test('every figure has its source and every pest a rule for each act', () => {
    expect(flatworm.source).toContain('Front. Mar. Sci. 6 (2019) 524');
    expect(Object.keys(pestOf('unnamed').rule.sharing).sort()).toEqual([
      'cut',
      'hold',
      'move',
      'sale',
      'tag',
    ]);
  });
});

describe('the clock of the flatworm at 27 degC', () => {
  test('asks for the next look when the eggs have hatched, on day 11', () => {
    expect(clock().nextLook).toEqual(later(11));
  });

  test('has a treatment fall after day 11 and before what hatched first lays, 38 - 11 days on', () => {
    expect(clock().treatment).toEqual({ from: later(11), until: later(27) });
    const again = clock({ treatments: [later(12)] });
    expect(again.treatment).toEqual({ from: later(23), until: later(39) });
    expect(again.nextLook).toEqual(later(23));
    expect([clock().untreated, again.untreated]).toEqual([true, false]);
  });

  test('counts clean looks from the end of the cycle, day 38, and clears at the second a week later', () => {
    const clean = (...days: number[]) => clock({ looks: days.map((day) => ({ at: later(day), found: 0 })) });
    expect(clean(11, 22, 33)).toMatchObject({
      clean: 0,
      clear: false,
      countsFrom: later(38),
      nextLook: later(38),
    });
    expect(clean(11, 38)).toMatchObject({ clean: 1, clear: false, nextLook: later(45) });
    expect(clean(38, 40)).toMatchObject({ clean: 1, clear: false });
    expect(clean(38, 45)).toMatchObject({ clean: 2, clear: true });
  });

  test('begins again with a sighting, with one found in a look, and with a lot that came', () => {
    expect(clock({ sightings: [start, later(20)] })).toMatchObject({
      since: later(20),
      sinceWhat: 'sighting',
    });
    expect(clock({ looks: [{ at: later(30), found: 2 }] })).toMatchObject({ since: later(30) });
    const came = clock({ arrivals: [later(44)], looks: [{ at: later(40), found: 0 }] });
    expect(came).toMatchObject({ sinceWhat: 'arrival', clean: 0, countsFrom: later(82) });
  });
});

describe('other water', () => {
  test('that was cooler on one day waits for the cycle of that day', () => {
    const temperatures = at(27).map((day, i) => (i === 4 ? { ...day, degC: 25 } : day));
    const slower = clock({ temperatures });
    expect(slower.cycle.low).toBeCloseTo(38, 6);
    expect(slower.countsFrom).toEqual(later(53));
  });

  test('between the published temperatures has hatching estimated by its share of the cycle, and says so', () => {
    const { hatch } = clock({ temperatures: at(25.5) });
    expect(hatch.estimated).toBe(true);
    expect(hatch.high).toBeCloseTo((11 / 38) * (daysAt(flatworm.cycle, 25.5) ?? 0), 6);
  });

  test.each([
    ['colder than what is published', at(22)],
    ['warmer than what is published', at(29)],
    ['of unknown temperature', []],
  ])('%s never clears by itself, and is looked at every week', (_, temperatures) => {
    const looks = [60, 70, 80, 90].map((day) => ({ at: later(day), found: 0 }));
    expect(clock({ temperatures, looks })).toMatchObject({ countsFrom: null, clear: false, treatment: null });
    expect(clock({ temperatures }).nextLook).toEqual(later(7));
  });

  test('with a pest of unknown cycle never clears by itself either', () => {
    expect(clock({}, pestOf('montipora_slug'))).toMatchObject({ countsFrom: null, nextLook: later(7) });
  });

  test('with the Porites-eating slug is looked at on day 7, and counts from day 20', () => {
    expect(clock({}, pestOf('porites_slug'))).toMatchObject({ nextLook: later(7), countsFrom: later(20) });
  });
});
