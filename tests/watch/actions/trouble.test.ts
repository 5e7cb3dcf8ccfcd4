import { describe, expect, test } from 'vitest';
import { phases } from '../../../src/alerts/advice.ts';
import { events } from '../../../src/emergencies/events/events.rules.ts';
import { buttonOf, doingsOf } from '../../../src/watch/actions/actions.rules.ts';
import { troubleHref, troubleOf } from '../../../src/watch/actions/trouble.rules.ts';
import { outOfBand } from '../../../src/watch/rules/bands/out-of-band.ts';
import { foundIn, troubledWorld } from '../advice/worlds.ts';
import { blankSystem, find, reading } from '../facts.ts';

// An alert whose first step makes something safe leads to the steps, not to another test (common practice, no source).

const found = Array.from({ length: 160 }, (_, seed) => foundIn(troubledWorld(seed + 1))).flat();
const acute = found.filter(
  ({ rule, advice: [first] }) =>
    rule === 'out-of-band' && first !== undefined && phases.indexOf(first.phase) < phases.indexOf('measure'),
);

describe('water that is out so far that something is made safe before it is tested again', () => {
  test('leads to the steps first, and to the test after them', () => {
    expect(acute.length).toBeGreaterThan(20);
    expect([...new Set(acute.map(buttonOf))]).toEqual(['Open the steps']);
    expect(acute.filter((finding) => !doingsOf(finding).includes('test'))).toEqual([]);
  });

  test('leads to a page of steps that there is', () => {
    const codes = new Set(events.map(({ code }) => code));
    const led = new Set(found.map(troubleOf).filter((code) => code !== null));
    expect([...led].filter((code) => !codes.has(code))).toEqual([]);
    expect(led.size).toBeGreaterThan(5);
  });

  test('leads to the steps for its own side', () => {
    const temperatures = acute.filter(({ facet }) => facet === 'temperature');
    const sides = new Set(
      temperatures.flatMap((finding) => {
        const [word] = /above|rises|below|falls/.exec(finding.title) ?? [];
        return word === undefined ? [] : [`${word} ${troubleOf(finding)}`];
      }),
    );
    expect([...sides].filter((side) => !/(above|rises) warm|(below|falls) cold/.test(side))).toEqual([]);
    expect(sides).toContain('above warm');
    expect(sides).toContain('below cold');
  });

  test('leads there also while it is inside its edges still, and runs towards danger', () => {
    const runs = (from: number, by: number) => {
      const readings = [1, 2, 3, 4, 5, 6].map((n) => reading(20 + n / 4, from, 0.1));
      const fast = [1, 2, 3].map((n) => reading(22 + n / 24, from + n * by, 0.1));
      const facts = blankSystem({ readings: new Map([['temperature', [...readings, ...fast]]]) });
      return find(outOfBand, facts, 22.13).find(({ facet }) => facet === 'temperature');
    };
    for (const [by, title, code] of [
      [1.2, 'rises fast', 'warm'],
      [-1.4, 'falls fast', 'cold'],
    ] as const) {
      const found = runs(25, by);
      expect(found?.title).toContain(title);
      expect(found && troubleOf(found)).toBe(code);
    }
  });
});

test('water that is only a little out is tested first', () => {
  const mild = found.filter((finding) => finding.rule === 'out-of-band' && !acute.includes(finding));
  expect(mild.length).toBeGreaterThan(20);
  expect([...new Set(mild.map(buttonOf))]).toEqual(['Test again']);
});

test('where no single page of steps fits, whoever stands there chooses by what they see', () => {
  const told = { rule: 'moving-together', facet: '' };
  expect(troubleHref(told, 'a')).toBe('/emergencies');
});
