import { describe, expect, test } from 'vitest';
import type { Finding } from '../../src/alerts/finding.ts';
import type { SystemFacts } from '../../src/watch/facts/types.ts';
import { ruleNamed, rules } from '../../src/watch/rules/registry.ts';
import { FarmSettings, type SettingRow } from '../../src/watch/settings/settings.rules.ts';
import { today, troubledWorld } from './advice/worlds.ts';
import { dkh } from './demand-worlds.ts';
import { blankSystem, dose, find, onDay, reading } from './facts.ts';

const row = (known: Partial<SettingRow>): SettingRow => ({
  rule: 'too-much-light',
  systemId: null,
  kindId: null,
  settings: {},
  reason: 'tried',
  at: onDay(1),
  who: 'Ines',
  scopeName: null,
  ...known,
});
const light = ruleNamed('too-much-light');
if (light === undefined) throw new Error('no such rule');
const slight = (rows: SettingRow[], systemId = 'a', kindIds: string[] = []) =>
  new FarmSettings(rows).here(light, systemId)(kindIds).slight;

/** Both fall for four days while alkalinity is dosed: by 0.7 dKH a day. */
function fallsWithCalcium(): SystemFacts {
  const days = Array.from({ length: 41 }, (_, day) => day);
  const kept = { bandLow: 7 * dkh, bandHigh: 9 * dkh, limitHigh: null, makeUp: null, source: 'own choice' };
  const fallen = (day: number) => Math.max(0, day - 36);
  return blankSystem({
    kept: new Map([['alkalinity', kept]]),
    doses: days.map((day) => dose(day + 0.1, 'alkalinity', 0.5 * dkh)),
    readings: new Map([
      ['alkalinity', days.map((day) => reading(day, (8.5 - 0.7 * fallen(day)) * dkh, 0.07))],
      ['calcium', days.map((day) => reading(day, 430 - 8.6 * fallen(day), 6))],
    ]),
  });
}

describe('limits', () => {
  test('every rule says what it watches, and every default lies within its range and has a source', () => {
    for (const { watches, parameters, heading } of rules) {
      expect(watches, heading).toMatch(/\.$/);
      for (const [name, parameter] of Object.entries(parameters)) {
        expect(parameter.default, name).toBeGreaterThanOrEqual(parameter.low);
        expect(parameter.default, name).toBeLessThanOrEqual(parameter.high);
        expect(parameter.source.length, name).toBeGreaterThan(10);
      }
    }
  });

  test.each([
    ['pest-in-water', 'fresh'],
    ['light-step', 'opens'],
    ['lightening', 'share'],
    ['rack-shift', 'least'],
  ])('of %s: what is told says the %s that the farm set, not the usual one', (name, parameter) => {
    const rule = ruleNamed(name);
    const usual = rule?.parameters[parameter]?.default;
    if (rule === undefined || usual === undefined) throw new Error('no such rule');
    const key = ({ subject, facet }: Finding) => `${subject.type} ${subject.id} ${facet}`;
    const found = (world: SystemFacts, value: number) =>
      new Map(
        find(rule, world, today, { [parameter]: value }).map((one) => [key(one), one.limit.value] as const),
      );
    const set = 0.9 * usual;
    const told = Array.from({ length: 60 }, (_, seed) => {
      const world = troubledWorld(seed + 1);
      const before = [...found(world, usual)].filter(([, value]) => value === usual);
      const after = found(world, set);
      return before.map(([one]) => after.get(one)).filter((value) => value !== undefined);
    }).flat();
    expect(told.length).toBeGreaterThan(0);
    expect(new Set(told)).toEqual(new Set([set]));
  });

  test('hold wherever another rule asks whether this one tells', () => {
    const asked = ['precipitation', 'tissue-loss'];
    const names = [...asked, 'alkalinity-falling', 'demand-changed', 'condition-noted'];
    const asking = rules.filter(({ name }) => names.includes(name));
    const told = (world: SystemFacts, day: number, rows: SettingRow[]) => {
      const book = new FarmSettings(rows);
      const found = asking.flatMap((rule) =>
        rule.evaluate(world, book.here(rule, world.systemId), onDay(day)),
      );
      const named = [
        ...found.map((one) => one.rule),
        ...found.flatMap((one) => one.causes.map((key) => key.rule)),
      ];
      return new Set(named.filter((name) => asked.includes(name)));
    };
    const strict = [
      row({ rule: 'precipitation', settings: { times: 5, clear: 4 } }),
      row({ rule: 'tissue-loss', settings: { lots: 10, within: 1 } }),
    ];
    const worlds: [SystemFacts, number][] = [
      [fallsWithCalcium(), 40],
      ...Array.from({ length: 12 }, (_, seed): [SystemFacts, number] => [troubledWorld(seed + 1), today]),
    ];
    expect(new Set(worlds.flatMap(([world, day]) => [...told(world, day, [])]))).toEqual(new Set(asked));
    for (const [world, day] of worlds) expect(told(world, day, strict)).toEqual(new Set());
  });

  test('can be looked at as they would be, with one number set or taken back in one place', () => {
    const book = new FarmSettings([row({ settings: { slight: 1.2, opens: 1.1 } })]);
    const farm = { systemId: null, kindId: null };
    const values = (value: number | null, place: { systemId: string | null; kindId: string | null } = farm) =>
      book.with(light, 'slight', value, place).here(light, 'a')();
    expect(values(1.4)).toMatchObject({ slight: 1.4, opens: 1.1 });
    expect(values(null)).toMatchObject({ slight: 1.1, opens: 1.1 });
    expect(values(1.5, { systemId: 'a', kindId: null })).toMatchObject({ slight: 1.5, opens: 1.1 });
    expect(book.here(light, 'a')()).toMatchObject({ slight: 1.2 });
  });

  test('inherit: default, then the farm’s, then the group’s, the taxon’s, the system’s', () => {
    const farm = row({ settings: { slight: 1.2 } });
    const group = row({ kindId: 'group', settings: { slight: 1.3 } });
    const taxon = row({ kindId: 'taxon', settings: { slight: 1.4 } });
    const system = row({ systemId: 'a', settings: { slight: 1.5 } });
    expect(slight([])).toBe(1.1);
    expect(slight([farm])).toBe(1.2);
    expect(slight([farm, group], 'a', ['taxon', 'group'])).toBe(1.3);
    expect(slight([taxon, farm, group], 'a', ['taxon', 'group'])).toBe(1.4);
    expect(slight([system, farm, taxon], 'a', ['taxon', 'group'])).toBe(1.5);
    expect(slight([system, farm], 'b')).toBe(1.2);
  });

  test('a number that no longer fits its rule counts as not set', () => {
    expect(slight([row({ settings: { slight: 99, gone: 1 } })])).toBe(1.1);
  });

  test('say where they come from', () => {
    const set = row({ settings: { slight: 1.2 } });
    const { slight: own, opens } = new FarmSettings([set]).origins(light);
    expect(own).toEqual({ value: 1.2, from: set });
    expect(opens).toEqual({ value: 1.01, from: null });
  });

  test('lists what was set for single systems and kinds, without what says nothing that fits', () => {
    const farm = row({ settings: { slight: 1.2 } });
    const system = row({ systemId: 'a', settings: { slight: 1.5 } });
    const kind = row({ kindId: 'taxon', settings: { opens: 1.1, slight: 99 } });
    const unfit = row({ systemId: 'b', settings: { slight: 99 } });
    const other = row({ rule: 'light-step', systemId: 'a', settings: { opens: 3 } });
    expect(new FarmSettings([farm, system, kind, unfit, other]).exceptions(light)).toEqual([
      { row: system, values: { slight: 1.5 } },
      { row: kind, values: { opens: 1.1 } },
    ]);
  });
});
