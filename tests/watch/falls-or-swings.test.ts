import { describe, expect, test } from 'vitest';
import type { Finding } from '../../src/alerts/finding.ts';
import { convert } from '../../src/science/units/convert.ts';
import { alkalinityFalling } from '../../src/watch/rules/alkalinity/alkalinity-falling.ts';
import { alkalinityUnsteady } from '../../src/watch/rules/alkalinity/alkalinity-unsteady.ts';
import { alkalinityWorld } from '../bench/detect/alkalinity-world.ts';
import { blankSystem, dayZero, find, firing } from './facts.ts';

// Worlds: the simulation study in DEVELOPERS.md (daily tests to 0.1 dKH, usual swing 0.1 dKH, level wandering by 0.15 about 8.2).

const dkh = (value: number) => convert('alkalinity', value, 'dKH', 'meq/L');
const band = { bandLow: dkh(7), bandHigh: dkh(10), limitHigh: null, makeUp: null, source: 'house rule' };
const usual = { habit: 'daily', testSd: 0.1, swing: 0.1, wander: 0.15, repeated: false } as const;
const [onset, days] = [150, 190];

/** The first alert on a fall after the onset that no alert on a swing would gather, as it is told `later` days after it opened. */
function firstFall(
  seed: number,
  trouble: { factor: number; fall: number },
  later: number,
): Finding | undefined {
  const { readings } = alkalinityWorld({ ...usual, ...trouble, onset, days }, seed);
  let opened: number | null = null;
  for (let day = onset + 1; day < days; day++) {
    const facts = blankSystem({
      kept: new Map([['alkalinity', band]]),
      readings: new Map([['alkalinity', readings.filter((one) => one.day <= dayZero + day)]]),
    });
    const [fall] = firing(find(alkalinityFalling, facts, day));
    if (fall === undefined) continue;
    const swings = firing(find(alkalinityUnsteady, facts, day)).some(({ facet }) => facet === '');
    if (opened === null && fall.causes.length > 0 && swings) return undefined;
    opened ??= day;
    if (day >= opened + later) return fall;
  }
  return undefined;
}

const firsts = (count: number, trouble: { factor: number; fall: number }, later = 0) =>
  Array.from({ length: count }, (_, i) => firstFall(501 + i, trouble, later)).filter(
    (one) => one !== undefined,
  );
const isBoth = ({ title }: Finding) => /falls or swings|swings and may fall/.test(title);

describe('alkalinity that goes down while it may only swing', () => {
  const swung = firsts(100, { factor: 3, fall: 0 });
  const fell = firsts(50, { factor: 1, fall: 0.1 });

  test('is told as a fall or a swing where its swing tripled, and as a fall in most falls four days on', () => {
    expect(swung.length).toBeGreaterThan(8);
    expect(swung.filter(isBoth).length / swung.length).toBeGreaterThanOrEqual(0.9);
    const later = firsts(50, { factor: 1, fall: 0.1 }, 4);
    expect(later.length).toBeGreaterThan(35);
    expect(later.filter(isBoth).length / later.length).toBeLessThanOrEqual(0.25);
  });

  test('raises no daily dose, and names the test that tells the two apart', () => {
    const open = [...swung, ...fell].filter(({ title }) => title === 'Long run: alkalinity falls or swings');
    expect(open.length).toBeGreaterThan(0);
    for (const { firstStep, why, numbers, figures } of open) {
      expect(firstStep).toMatch(/^Look at what supplies it.*Leave the daily dose as it is on this alone\./);
      expect(firstStep).toMatch(
        /Test at the same hour tomorrow and the day after: a fall goes on, a swing comes back\.$/,
      );
      expect(firstStep).not.toContain('Raise the daily dose');
      expect(why).toContain('is not known yet');
      expect(numbers).toMatch(
        /^\d\.\d dKH, went down of late by 0\.\d+ dKH a day; .*(if it falls|already below 7\.0 dKH)$/,
      );
      expect(figures.find(({ label }) => label === 'Fall or swing, by the last month')?.text).toMatch(
        /^(\d+|more than 100) to 1 for a (fall|swing)$|^as likely the one as the other$/,
      );
    }
  });

  test('is as urgent as a fall where it is at its edge within days, and is raised to it by hand then, no higher', () => {
    const both = [...swung, ...fell].filter(isBoth);
    const urgent = both.filter(({ severity }) => severity === 'now');
    expect(urgent.length).toBeGreaterThan(0);
    for (const { firstStep, causes } of urgent) {
      expect(firstStep).toMatch(
        /Raise it by hand to 7\.0 dKH and no higher, once a second test says that it is below\./,
      );
      expect(causes).toEqual([]);
    }
    for (const { firstStep } of both.filter(({ severity }) => severity !== 'now'))
      expect(firstStep).not.toContain('Raise');
  });
});
