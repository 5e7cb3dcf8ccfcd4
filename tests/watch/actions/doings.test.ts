import { describe, expect, test } from 'vitest';
import type { Advice, Lever } from '../../../src/alerts/advice.ts';
import type { Finding } from '../../../src/alerts/finding.ts';
import { byHand, doingsOf, moves, rulesWithDoings } from '../../../src/watch/actions/actions.rules.ts';
import { rules } from '../../../src/watch/rules/registry.ts';
import { foundIn, troubledWorld } from '../advice/worlds.ts';

// Each piece of advice that a rule can give has something on the alert's page with which it is done, or a reason why not.

const found = Array.from({ length: 160 }, (_, seed) => foundIn(troubledWorld(seed + 1))).flat();
const firstSteps = ({ advice }: Finding): Advice[] => advice.filter(({ waits }) => waits !== true);
const leversOf = (finding: Finding): Lever[] => [
  ...new Set(
    firstSteps(finding).flatMap(({ acts }) =>
      acts
        .filter(({ direction }) => direction !== 'hold' && direction !== 'not up')
        .map(({ lever }) => lever),
    ),
  ),
];

describe('what can be done about an alert', () => {
  test('is known for every rule of the watch', () => {
    expect(rules.map(({ name }) => name).filter((name) => !rulesWithDoings.has(name))).toEqual([]);
    expect([...rulesWithDoings].filter((name) => !rules.some((rule) => rule.name === name))).toEqual([]);
  });

  test('is something for every finding that the rules make of random worlds', () => {
    const without = found.filter((finding) => doingsOf(finding).length === 0);
    expect(new Set(without.map(({ rule }) => rule))).toEqual(new Set());
    expect(new Set(found.map(({ rule }) => rule)).size).toBe(rules.length);
  });

  test('moves each lever that the advice names, or the table says why it is moved by hand', () => {
    const unmoved = new Set(
      found.flatMap((finding) => {
        const moved = new Set(doingsOf(finding).flatMap((doing) => moves[doing]));
        return leversOf(finding)
          .filter((lever) => !moved.has(lever) && byHand[lever] === undefined)
          .map((lever) => `${finding.rule} ${finding.facet} ${finding.subject.type}: ${lever}`);
      }),
    );
    expect([...unmoved]).toEqual([]);
  });

  test('begins with setting animals apart where the first step is that and the alert names lots', () => {
    const otherwise = found
      .filter(
        ({ advice: [first], lots }) => lots.length > 0 && first?.acts.some(({ lever }) => lever === 'apart'),
      )
      .filter((finding) => {
        const [doing] = doingsOf(finding);
        return doing === undefined || !moves[doing].includes('apart');
      });
    expect([...new Set(otherwise.map(({ rule }) => rule))]).toEqual([]);
  });
});

describe('the title of an alert', () => {
  const said = (title: string) => title.replace(/^.*?(?<!“[^”]*): /, '');
  test('says what is the matter in at most seven words after the name of what it is about', () => {
    const long = new Set(
      found
        .map(({ title, rule }) => `${rule}: ${said(title)}`)
        .filter((title) => title.split(': ').slice(1).join(': ').split(/\s+/).length > 7),
    );
    expect([...long]).toEqual([]);
  });
});
