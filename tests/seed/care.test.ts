import { describe, expect, test } from 'vitest';
import { CARE_FIGURE_NAMES, careGroup } from '../../seed/care.schema.ts';
import { careGroups, libraryKinds, methods, quantities } from '../../seed/library.ts';
import { canonicalUnit, convert, unitsOf } from '../../src/science/units/convert.ts';
import { isQuantityCode } from '../../src/science/units/quantities.ts';

const kinds = libraryKinds();
const kind = (code: string) => {
  const found = kinds.find((candidate) => candidate.code === code);
  if (!found) throw new Error(`no kind ${code}`);
  return found;
};
const rangeOf = (code: string, figure: 'growth_mm_year' | 'par_range' | 'alkalinity' | 'temperature') => {
  const { low = Number.NaN, high = Number.NaN } = kind(code).care[figure] ?? {};
  return { low, high };
};

describe('the care library', () => {
  test('knows about forty kinds and more, each once', () => {
    expect(kinds.length).toBeGreaterThanOrEqual(40);
    expect(new Set(kinds.map(({ code }) => code)).size).toBe(kinds.length);
    expect(new Set(kinds.map(({ name }) => name)).size).toBe(kinds.length);
  });

  test('gives every kind a full care range, each figure with its source and basis', () => {
    for (const { code, care } of kinds) {
      for (const name of CARE_FIGURE_NAMES) expect(care[name]?.source, `${code} ${name}`).toMatch(/\w{3}/);
    }
  });

  test('says it of every figure from memory that it is weakly founded', () => {
    const figures = careGroups().flatMap((group) => [
      group.figures,
      ...group.taxa.map((taxon) => taxon.figures),
    ]);
    for (const figure of figures.flatMap((all) => Object.values(all))) {
      if (figure.basis === 'from_memory') expect(figure.confidence).toBe('low');
    }
  });

  test('keeps the order of light: band below ceiling, a step that is a step', () => {
    for (const { code, care } of kinds) {
      expect(care.par_ceiling?.high, code).toBeGreaterThan(care.par_range?.high ?? Number.POSITIVE_INFINITY);
      expect(care.step_ratio?.high, code).toBeGreaterThan(1.05);
      expect(care.step_ratio?.high, code).toBeLessThan(1.5);
      expect(care.flow?.high, code).toBeLessThanOrEqual(3);
    }
  });

  test('never lets a jet at flesh', () => {
    for (const { group, care } of kinds) {
      if (/brain|fleshy|long-tentacled|mushrooms/.test(group)) expect(care.jet?.words).toBe('never on flesh');
    }
  });

  test('warns of palytoxin on every zoanthid', () => {
    for (const { group, care } of kinds) {
      if (group === 'zoanthids') expect(care.caution?.words).toMatch(/palytoxin.*bleach|bleach.*palytoxin/s);
    }
  });

  test('is refused with a figure that has no source, or a range that is upside down', () => {
    const [group] = careGroups();
    const broken = (figure: object) => () =>
      careGroup.parse({ ...group, figures: { ...group?.figures, par_range: figure } });
    expect(broken({ low: 1, high: 2, basis: 'published' })).toThrow(/source/);
    expect(broken({ low: 3, high: 2, basis: 'published', source: 'a paper' })).toThrow(
      /low stands above high/,
    );
    expect(broken({ low: 3, basis: 'published', source: 'a paper' })).toThrow(/par_range lacks a part/);
  });
});

describe('against what was published', () => {
  // Medians of linear extension (mm/year) of wild colonies in the public coral trait data.
  test.each([
    ['dipsastraea-favus', 5.7],
    ['goniastrea-retiformis', 7.8],
    ['platygyra-sinensis', 7.4],
    ['favites-pentagona', 0.8],
    ['cyphastrea-serailia', 3.4],
    ['oulophyllia-crispa', 21],
    ['merulina-ampliata', 23],
    ['turbinaria-reniformis', 16.6],
    ['porites-cylindrica', 8.1],
    ['acropora-muricata', 59],
  ])('%s grows about %d mm a year', (code, median) => {
    const { low, high } = rangeOf(code, 'growth_mm_year');
    expect(low).toBeLessThanOrEqual(median);
    expect(high).toBeGreaterThanOrEqual(median);
  });

  // PLoS ONE 13 (2018) e0203882: Acropora millepora had not adapted after 20 d; J. Exp. Biol. 222 (2019)
  // jeb195982: photosystem II of A. muricata had within 21 d.
  test('branching corals have adapted by nine tenths after about three weeks', () => {
    for (const code of ['acropora-millepora', 'acropora-muricata']) {
      const adapted = 1 - Math.exp(-21 / (kind(code).care.adaptation_days?.high ?? Number.NaN));
      expect(adapted).toBeGreaterThan(0.8);
      expect(adapted).toBeLessThan(0.95);
    }
  });

  // Chemistry article of the trade and a marine guide (1996), common practice: 7-11 dKH, 76-83 degF.
  test('alkalinity and temperature are the published bands in canonical units', () => {
    const { low, high } = rangeOf('platygyra-daedalea', 'alkalinity');
    expect(convert('alkalinity', low, 'meq/L', 'dKH')).toBeCloseTo(7, 1);
    expect(convert('alkalinity', high, 'meq/L', 'dKH')).toBeCloseTo(11.2, 1);
    const warmth = rangeOf('platygyra-daedalea', 'temperature');
    expect(convert('temperature', warmth.low, 'degC', 'degF')).toBeCloseTo(76, 0);
    expect(convert('temperature', warmth.high, 'degC', 'degF')).toBeCloseTo(83, 0);
  });
});

describe('quantities and methods', () => {
  const codes = quantities().map(({ code }) => code);

  test('stand in bench order', () => {
    expect(codes.slice(0, 8)).toEqual(
      'alkalinity calcium magnesium nitrate phosphate salinity temperature ph'.split(' '),
    );
    expect(quantities().map(({ position }) => position)).toEqual(codes.map((_, index) => index + 1));
  });

  test('are stored and shown in units that can be converted', () => {
    for (const quantity of quantities()) {
      expect(isQuantityCode(quantity.code)).toBe(true);
      expect(quantity.canonicalUnit).toBe(canonicalUnit(quantity.code));
      expect(unitsOf(quantity.code)).toContain(quantity.displayUnit);
    }
  });

  test('have a plausible range within the possible', () => {
    for (const { code, plausibleLow, plausibleHigh, possibleLow, possibleHigh } of quantities()) {
      expect([possibleLow, plausibleLow, plausibleHigh, possibleHigh], code).toEqual(
        [possibleLow, plausibleLow, plausibleHigh, possibleHigh].sort((a, b) => a - b),
      );
      expect(plausibleLow).toBeLessThan(plausibleHigh);
    }
  });

  test('each has exactly one usual method, and every method some uncertainty', () => {
    for (const code of codes) {
      expect(methods().filter((method) => method.quantityCode === code && method.isDefault)).toHaveLength(1);
    }
    for (const method of methods()) {
      expect(codes).toContain(method.quantityCode);
      expect(method.absolute + method.relative).toBeGreaterThan(0);
    }
  });

  // Official method 365.1 (ascorbic acid): standard deviations at 0.04 and at 0.30 mg/L P.
  test.each([
    [0.04, 0.014, 0.019],
    [0.3, 0.066, 0.087],
  ])('phosphate by ascorbic acid at %d mg/L P is as uncertain as its official method', (p, low, high) => {
    const method = methods().find(({ name }) => name.includes('ascorbic'));
    const u = Math.hypot(
      method?.absolute ?? 0,
      (method?.relative ?? 0) * convert('phosphate', p, 'mg/L P', 'mg/L'),
    );
    expect(convert('phosphate', u, 'mg/L', 'mg/L P')).toBeGreaterThan(low);
    expect(convert('phosphate', u, 'mg/L', 'mg/L P')).toBeLessThan(high);
  });
});
