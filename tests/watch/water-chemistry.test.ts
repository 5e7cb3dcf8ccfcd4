import { describe, expect, test } from 'vitest';
import { umolPerKg } from '../../src/science/carbonate/composition.ts';
import { nbsMinusTotal } from '../../src/science/carbonate/ph-scale.ts';
import type { ReadingFact, SystemFacts } from '../../src/watch/facts/types.ts';
import { ammonia } from '../../src/watch/rules/chemistry/ammonia.ts';
import { heatStress } from '../../src/watch/rules/chemistry/heat-stress.ts';
import { saturation } from '../../src/watch/rules/chemistry/saturation.ts';
import { num, referenceTable } from '../support/csv.ts';
import { published } from '../support/published.ts';
import { calmWater, knownOn } from './calm-water.ts';
import { blankSystem, dayZero, find, firing, reading } from './facts.ts';

type Rows = Record<string, readonly ReadingFact[]>;
const withReadings = (rows: Rows, more: Partial<SystemFacts> = {}) =>
  blankSystem({ readings: new Map(Object.entries(rows)), ...more });

const calmAlerts = (rule: unknown) =>
  [800, 801].flatMap((seed) => {
    const facts = calmWater(seed, 460);
    const days = Array.from({ length: 52 }, (_, i) => 95 + 7 * i);
    return days.filter((day) => firing(find(rule, knownOn(facts, day), day)).length > 0);
  });

describe('the rule on saturation', () => {
  const omega = published('aragonite saturation, from readings as a farm takes them', 'PyCO2SYS', 0.01);

  /** Water of the table, read as a farm reads it: meq/L, and a probe set with ordinary buffers. */
  function water(row: { S: number; t: number; alkalinity: number; ph: number }, apart = 0) {
    const ph = row.ph + nbsMinusTotal(row.S, row.t);
    const meq = row.alkalinity / umolPerKg(1, row.S, row.t);
    const on = [8, 9];
    return withReadings({
      ph: on.map((day) => reading(day, ph, 0.05)),
      alkalinity: on.map((day) => reading(day + apart, meq, 0.03)),
      salinity: on.map((day) => reading(day, row.S, 0.3)),
      temperature: on.map((day) => reading(day, row.t, 0.2)),
    });
  }

  test('works out what two libraries work out, and says how sure it is', () => {
    const rows = referenceTable('carbonate_from_TA_pH').filter(
      (row) => row.boron === 'Uppstrom1974' && num(row, 'Omega_aragonite') > 9,
    );
    expect(rows.length).toBeGreaterThan(0);
    for (const row of rows) {
      const facts = water({
        S: num(row, 'S'),
        t: num(row, 't_degC'),
        alkalinity: num(row, 'TA_umol_kg'),
        ph: num(row, 'pH_total'),
      });
      const [finding] = find(saturation, facts, 9.5);
      omega.check(finding?.number.value ?? Number.NaN, num(row, 'Omega_aragonite'));
      expect(finding?.facet).toBe('high');
      expect(finding?.numbers).toMatch(/^Aragonite saturation \d+\.\d ± \d\.\d$/);
      expect(finding?.figures[2]?.text).toContain('sea’s');
    }
  });

  test('tells apart water that holds little carbonate, dissolves skeleton, and lets carbonate drop out', () => {
    const said = (alkalinity: number, ph: number) =>
      firing(find(saturation, water({ S: 35, t: 25, alkalinity, ph }), 9.5)).map(
        ({ facet, severity }) => `${facet} ${severity}`,
      );
    expect(said(1800, 7.65)).toEqual(['low watch']);
    expect(said(1800, 7.55)).toEqual(['low today']);
    expect(said(1500, 7.3)).toEqual(['low now']);
    expect(said(2300, 8)).toEqual([]);
    expect(said(3500, 8.5)).toEqual(['high watch']);
    expect(said(4500, 8.6)).toEqual(['high today']);
  });

  test('says nothing of readings that lie too far apart, and needs two mornings', () => {
    const low = { S: 35, t: 25, alkalinity: 1500, ph: 7.3 };
    expect(find(saturation, water(low, -3), 9.5)).toEqual([]);
    const one = water(low);
    const ph = (one.readings.get('ph') ?? []).slice(-1);
    expect(find(saturation, { ...one, readings: new Map([...one.readings, ['ph', ph]]) }, 9.5)).toEqual([]);
    const unsure = (one.readings.get('ph') ?? []).map((r) => ({ ...r, trust: 'unconfirmed' as const }));
    expect(find(saturation, { ...one, readings: new Map([...one.readings, ['ph', unsure]]) }, 9.5)).toEqual(
      [],
    );
  });

  test('goes under the pH or the alkalinity where those stand outside their bands, and stays silent in calm water', () => {
    const [finding] = find(saturation, water({ S: 35, t: 25, alkalinity: 1500, ph: 7.3 }), 9.5);
    expect(finding?.causes).toMatchObject([{ facet: 'ph' }, { facet: 'alkalinity' }]);
    expect(calmAlerts(saturation)).toEqual([]);
  });
});

describe('the rule on ammonia', () => {
  const share = published(
    'un-ionised ammonia, from readings as a farm takes them',
    'US EPA 440/5-88-004 (1989)',
    0.01,
  );

  const water = (total: ReadingFact[], ph = 8.2) =>
    withReadings({
      ammonia: total,
      ph: [reading(9, ph, 0.05)],
      salinity: [reading(9, 35, 0.3)],
      temperature: [reading(9, 25, 0.2)],
    });
  const confirmed = (value: number) => [
    reading(9, value, 0.05 * value, { trust: 'confirmed' }),
    reading(9.01, value, 0.05 * value, { trust: 'confirmed' }),
  ];

  test('finds the part that harms', () => {
    const row = referenceTable('ammonia_fraction_saltwater_epa1989').find(
      (one) => num(one, 'S') === 35 && num(one, 't_degC') === 25,
    );
    if (row === undefined) throw new Error('no such water in the table');
    for (const [ph, column] of [
      [8, 'fraction_pH_8_0'],
      [8.2, 'fraction_pH_8_2'],
      [8.4, 'fraction_pH_8_4'],
    ] as const) {
      const [finding] = find(ammonia, water(confirmed(1), ph), 9.5);
      share.check(finding?.number.value ?? Number.NaN, num(row, column));
    }
  });

  test('is urgent by that part: the same total harms at a high pH and hardly at a low one', () => {
    const said = (total: number, ph: number) =>
      firing(find(ammonia, water(confirmed(total), ph), 9.5)).map(({ severity }) => severity);
    expect(said(0.15, 7.6)).toEqual(['watch']);
    // Hardly poisonous, and yet more than twice what a running system shows: what makes it is looked for today.
    expect(said(0.4, 7.6)).toEqual(['today']);
    expect(said(0.6, 8.2)).toEqual(['today']);
    expect(said(1.5, 8.2)).toEqual(['now']);
    expect(said(0.05, 8.2)).toEqual([]);
  });

  test('below detection is as it should be', () => {
    expect(find(ammonia, water([reading(9, 0.2, 0.05, { below: true })]), 9.5)).toEqual([]);
  });

  test('one unconfirmed reading asks for another within the hour, and for air', () => {
    const past = [1, 4, 7].map((day) => reading(day, 0.05, 0.05, { below: true }));
    const [finding] = firing(
      find(ammonia, water([...past, reading(9, 1.5, 0.1, { trust: 'unconfirmed' })]), 9.02),
    );
    expect(finding).toMatchObject({ severity: 'now', doubted: true });
    expect(finding?.firstStep).toMatch(/^Act now: test again within the hour.*air on/);
  });

  test('says what it had to take for granted', () => {
    const facts = withReadings({ ammonia: confirmed(0.6) });
    const [finding] = find(ammonia, facts, 9.5);
    expect(finding?.figures.at(-1)?.text).toBe('pH, salinity, temperature');
  });

  test('without a pH nobody knows how much of it harms: the pH is read today, in cold water as well', () => {
    const cold = withReadings({ ammonia: confirmed(0.6), temperature: confirmed(14.6) });
    const [finding] = firing(find(ammonia, cold, 9.5));
    expect(finding?.severity).toBe('today');
    expect(finding?.firstStep).toContain('Read the pH now');
  });

  test('stays silent in calm water', () => {
    expect(calmAlerts(ammonia)).toEqual([]);
  });
});

describe('the rule on heat', () => {
  const weeks = published('degree heating weeks of a system', 'Skirving et al. 2020 definition', {
    absolute: 1e-6,
  });
  const rows = referenceTable('coral_dhw_series');
  const season = rows.map((row) => ({ day: dayZero + num(row, 'day'), mean: num(row, 'sst_Cel') }));
  const kept = (bandHigh: number) =>
    new Map([
      ['temperature', { bandLow: 24, bandHigh, limitHigh: null, makeUp: null, source: 'house rule' }],
    ]);
  const onDayOf = (day: number, more: Partial<SystemFacts> = {}) => {
    const temperatures = season.filter((one) => one.day <= dayZero + day);
    return find(heatStress, blankSystem({ kept: kept(28), temperatures, ...more }), day + 1);
  };

  test('follows a published season day by day, counted from the band’s upper edge where there is no year of readings', () => {
    for (const row of rows.filter((one) => num(one, 'DHW') >= 3.1 && num(one, 'hotspot_Cel') > 0)) {
      const [finding] = onDayOf(num(row, 'day'));
      if (finding === undefined) continue;
      weeks.check(finding.number.value, num(row, 'DHW'));
      expect(finding.limit.source).toContain('the upper edge of this system’s band');
    }
  });

  test('opens at 4 °C-weeks, is grave from 8, and grows quiet once it has been cooler for two weeks', () => {
    const first = (dhw: number) => num(rows.find((row) => num(row, 'DHW') >= dhw) ?? {}, 'day');
    expect(onDayOf(first(3.2))).toMatchObject([{ status: 'stays' }]);
    expect(onDayOf(first(4))).toMatchObject([{ status: 'fires', severity: 'today' }]);
    expect(onDayOf(first(8))).toMatchObject([{ status: 'fires', severity: 'now' }]);
    expect(onDayOf(101)).toMatchObject([{ status: 'stays' }]);
    expect(onDayOf(108)).toEqual([]);
  });

  test('counts from the system’s own warmest month once it has a year, and is milder inside the band', () => {
    const year = Array.from({ length: 300 }, (_, i) =>
      reading(i - 390, 25.5 + 1.5 * Math.sin((2 * Math.PI * i) / 365), 0.2),
    );
    const temperatures = Array.from({ length: 40 }, (_, i) => ({ day: dayZero + i, mean: 28.2 }));
    const facts = blankSystem({ kept: kept(29), temperatures, readings: new Map([['temperature', year]]) });
    const [finding] = firing(find(heatStress, facts, 40));
    expect(finding).toMatchObject({ severity: 'watch' });
    expect(finding?.limit.source).toMatch(
      /counted from 2[67]\.\d °C, the warmest month of this system’s own year/,
    );
  });

  test('says that the sum is a lower bound where days are missing, and that nitrate makes heat worse', () => {
    const nitrate = Array.from({ length: 9 }, (_, i) => reading(20 + 7 * i, 45, 4));
    const temperatures = season.filter(({ day }) => day <= dayZero + 80 && day % 5 !== 0);
    const [finding] = find(
      heatStress,
      blankSystem({ kept: kept(28), temperatures, readings: new Map([['nitrate', nitrate]]) }),
      81,
    );
    expect(finding?.figures.some(({ text }) => text.includes('at least this much'))).toBe(true);
    expect(finding?.why).toContain('Nitrate is raised too (45');
  });

  test('without temperatures lately what is open stays, and calm water is silent', () => {
    const temperatures = season.filter((one) => one.day <= dayZero + 85);
    expect(find(heatStress, blankSystem({ kept: kept(28), temperatures }), 92)).toMatchObject([
      { status: 'unknown' },
    ]);
    expect(calmAlerts(heatStress)).toEqual([]);
  });
});
