import { describe, expect, test } from 'vitest';
import { calciumAlkalinity } from '../../src/watch/rules/demand/calcium-alkalinity.ts';
import { knownOn, useWorld } from './demand-worlds.ts';
import { find, firing } from './facts.ts';

// The range: PeerJ 2 (2014) e249, 2.06 +- 0.19 and 1.60 +- 0.14 mol of alkalinity a mol of calcium.

const seeds = Array.from({ length: 8 }, (_, i) => 3 + i * 29);

const foundIn = (calciumRatio: number, day: number, use = 0.8) =>
  seeds.filter((seed) => {
    const world = useWorld({ seed, days: day + 1, calciumRatio, use });
    return firing(find(calciumAlkalinity, knownOn(world, day), day)).length > 0;
  }).length;

describe('the rule on calcium beside alkalinity', () => {
  test('stays silent for corals alone and for a community with sand', () => {
    expect([foundIn(19.5, 200), foundIn(25, 200)]).toEqual([0, 0]);
  });

  test('speaks where calcium goes three times as fast, and says what cannot be the reason', () => {
    expect(foundIn(60, 200)).toBe(seeds.length);
    const world = useWorld({ seed: 3, days: 201, calciumRatio: 60, use: 0.8 });
    const [finding] = find(calciumAlkalinity, knownOn(world, 200), 200);
    expect(finding).toMatchObject({ severity: 'watch', subject: { type: 'system' } });
    expect(finding?.title).toBe('Long run: calcium is used 3 times too fast');
    expect(finding?.numbers).toMatch(
      /^\d\d mg\/L of calcium a meq\/L \(\d+ to \d+\), calcification takes 20$/,
    );
    expect(finding?.why).toMatch(/cannot have gone that way/);
  });

  test('speaks where alkalinity goes without calcium, as a part of a fall where one is told', () => {
    expect(foundIn(5, 200)).toBeGreaterThan(seeds.length / 2);
    const causes = [5, 60].map((calciumRatio) =>
      seeds.flatMap((seed) => {
        const world = useWorld({ seed, days: 201, calciumRatio, use: 0.8 });
        return find(calciumAlkalinity, knownOn(world, 200), 200).flatMap((one) =>
          one.causes.map(({ rule }) => rule),
        );
      }),
    );
    expect(new Set(causes[0])).toEqual(new Set(['alkalinity-falling']));
    expect(causes[1]).toEqual([]);
  });

  test('never speaks on a short span, nor where too little is used to tell', () => {
    expect(foundIn(60, 35)).toBe(0);
    expect(foundIn(60, 200, 0.02)).toBe(0);
  });
});
