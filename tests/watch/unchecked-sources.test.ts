import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { libraryKinds } from '../../seed/library.ts';
import type { Finding } from '../../src/alerts/finding.ts';
import { isUnchecked } from '../../src/alerts/unchecked.rules.ts';
import type { Care } from '../../src/stock/kinds/care.ts';
import { placeCare } from '../../src/watch/facts/place-care.ts';
import type { LotFact } from '../../src/watch/facts/types.ts';
import { outOfBand } from '../../src/watch/rules/bands/out-of-band.ts';
import { tooMuchLight } from '../../src/watch/rules/light/too-much-light.ts';
import { rules } from '../../src/watch/rules/registry.ts';
import { blankLot, blankSystem, find, reading } from './facts.ts';
import { blankRack, light, look, lotOf } from './kinds.ts';

// A figure that nobody has checked may ask for a look; it never asks somebody to act today. The figures of the care library
// that are from memory are named there by their basis.

const remembered = libraryKinds().flatMap((kind) =>
  Object.entries(kind.care)
    .filter(([, { basis }]) => basis === 'from_memory')
    .map(([figure]) => ({ kind: kind.code, figure })),
);
/** The figures that a rule compares something with. */
const judged = [
  'par_range',
  'par_ceiling',
  'step_ratio',
  'adaptation_days',
  'reach_mm',
  'flow',
  'jet',
  'base',
];
const judgedKinds = [
  ...new Set(remembered.filter(({ figure }) => judged.includes(figure)).map(({ kind }) => kind)),
];

/** All that rules say of a lot on a day when it has stood there for long. */
const everythingSaid = (lot: LotFact): Finding[] =>
  rules.flatMap((rule) => find(rule, blankSystem({ lots: [lot], racks: [blankRack()] }), 120));

test('no setting of a rule rests on a figure from memory', () => {
  const unchecked = rules.flatMap(({ name, parameters }) =>
    Object.entries(parameters)
      .filter(([, { source }]) => isUnchecked(source))
      .map(([key]) => `${name}: ${key}`),
  );
  expect(unchecked).toEqual([]);
});

test('no sentence of a rule names a figure from memory', () => {
  const folder = new URL('../../src/watch/rules/', import.meta.url);
  const files = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((name) =>
    name.endsWith('.ts'),
  );
  expect(files.length).toBeGreaterThan(50);
  const naming = files.filter((name) => isUnchecked(readFileSync(new URL(name, folder), 'utf8')));
  expect(naming).toEqual([]);
});

describe.each(judgedKinds)('of %s, whose care is partly from memory,', (kind) => {
  test.each([
    ['far too dim', 4],
    ['far too bright', 900],
  ])('light %s is told, as a watch at most', (_, par) => {
    const findings = everythingSaid(lotOf(kind, { light: [light(0, par)] }));
    const byMemory = findings.filter(({ limit }) => isUnchecked(limit.source));
    for (const { severity } of byMemory) expect(severity).toBe('watch');
  });
});

test('at least one kind is told by a figure from memory, so that the bound is tried', () => {
  const told = judgedKinds.flatMap((kind) =>
    [4, 900].flatMap((par) =>
      everythingSaid(lotOf(kind, { light: [light(0, par)] })).filter(({ limit }) =>
        isUnchecked(limit.source),
      ),
    ),
  );
  expect(told.length).toBeGreaterThan(0);
});

describe('a ceiling that a farm wrote down from memory', () => {
  const figure = (basis: 'from_memory' | 'common_practice') => ({
    par_ceiling: {
      low: null,
      high: 150,
      words: null,
      basis,
      source: 'a grower said so',
      from: 'lot' as const,
    },
  });
  const lot = (basis: 'from_memory' | 'common_practice', more: Partial<LotFact> = {}) =>
    blankLot({ care: placeCare(figure(basis) as Care), light: [light(0, 300)], ...more });
  const told = (one: LotFact) => find(tooMuchLight, blankSystem({ lots: [one] }), 60)[0];

  test('raises a watch that says why, where common practice raises today', () => {
    expect(told(lot('common_practice'))?.severity).toBe('today');
    const bounded = told(lot('from_memory'));
    expect(bounded?.severity).toBe('watch');
    expect(bounded?.limit.source).toBe('from memory, not checked: a grower said so');
    expect(JSON.stringify(bounded?.figures)).toContain('its limit is from memory and was not checked');
  });

  test('does not quiet what was seen on the animal', () => {
    expect(told(lot('from_memory', { conditions: [look(50, 'bleached', 2)] }))?.severity).toBe('now');
  });
});

test('water that stock does not bear is for now, even where the band was typed from memory', () => {
  const kept = { bandLow: 24, bandHigh: 27, limitHigh: null, makeUp: null, source: 'from memory' };
  const water = (value: number) =>
    blankSystem({
      kept: new Map([['temperature', kept]]),
      readings: new Map([['temperature', [0, 1, 2].map((day) => reading(day, value, 0.1))]]),
    });
  expect(find(outOfBand, water(33), 2)[0]?.severity).toBe('now');
  const mild = find(outOfBand, water(28), 2)[0];
  expect(mild?.severity).toBe('watch');
  expect(JSON.stringify(mild?.figures)).toContain('its limit is from memory and was not checked');
});
