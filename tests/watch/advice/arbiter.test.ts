import { describe, expect, test } from 'vitest';
import { type Advice, phaseRank, wordsOf } from '../../../src/alerts/advice.ts';
import { opposes } from '../../../src/alerts/conflicts.rules.ts';
import { type Finding, keyText } from '../../../src/alerts/finding.ts';
import { isWaterTrouble } from '../../../src/alerts/water-trouble.ts';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { arbitrate } from '../../../src/watch/advice/arbiter.ts';
import { type Ground, groundOf, kitsBehind } from '../../../src/watch/advice/ground.ts';
import { rules } from '../../../src/watch/rules/registry.ts';
import { onDay } from '../facts.ts';
import { foundIn, today, troubledWorld } from './worlds.ts';

// What may never happen, whatever is found together: properties over findings that the rules made of random worlds.

const now = onDay(today);
const worlds = Array.from({ length: 220 }, (_, seed) => troubledWorld(seed + 1));
const found = worlds.map((facts) => ({ facts, findings: foundIn(facts) }));

interface Case {
  findings: Finding[];
  ground: Ground;
}

const firstSteps = ({ advice }: Finding): Advice[] => advice.filter(({ waits }) => waits !== true);
const onOf = (finding: Finding, { on }: Advice) => on ?? finding.subject;

/** Subsets of what one world says, and of what all worlds say mixed: lots, racks and lamps have the same keys in all. */
function cases(): Case[] {
  const random = seededRandom(7);
  const own = found.flatMap(({ facts, findings }) =>
    Array.from({ length: 10 }, () => ({
      findings: findings.filter(() => random.uniform() < 0.6),
      ground: groundOf(facts),
    })),
  );
  const pool = Map.groupBy(
    found.flatMap(({ findings }) => findings),
    ({ rule }) => rule,
  );
  const grounds = worlds.map(groundOf);
  const mixedGround: Ground = {
    meet: (grounds[0] as Ground).meet,
    testOf: (id) => grounds.map((ground) => ground.testOf(id)).find((test) => test !== null) ?? null,
    doubtful: (kitId) => (kitId === 'kit nitrate' || kitId === 'kit calcium' ? kitId : null),
  };
  const mixed = Array.from({ length: 1500 }, () => {
    const some = [...pool.values()].flatMap((all) =>
      Array.from({ length: random.below(3) }, () => all[random.below(all.length)] as Finding),
    );
    const unique = new Map(some.map((finding) => [keyText(finding), finding]));
    return { findings: [...unique.values()], ground: mixedGround };
  });
  return [...own, ...mixed].filter(({ findings }) => findings.length > 0);
}

const all = cases().map((one) => ({ ...one, told: arbitrate(one.findings, one.ground, now) }));

describe('advice of all alerts together', () => {
  test('is tried on findings of every rule, in thousands of combinations', () => {
    const seen = new Set(all.flatMap(({ findings }) => findings.map(({ rule }) => rule)));
    expect(rules.map(({ name }) => name).filter((name) => !seen.has(name))).toEqual([]);
    expect(all.length).toBeGreaterThan(3000);
    const waiting = all.filter(({ told }) => told.some(({ later }) => later !== ''));
    expect(waiting.length).toBeGreaterThan(1000);
  });

  test('every finding of every rule gives its advice as data, and its text is the text of it', () => {
    for (const { findings } of found)
      for (const finding of findings) {
        expect(finding.advice.length, finding.rule).toBeGreaterThan(0);
        expect(finding.firstStep, finding.rule).toBe(wordsOf(finding.advice));
      }
  });

  test('never holds two first steps that cannot both be done', () => {
    const clashes = all.flatMap(({ told, ground }) => {
      const steps = told.flatMap((finding) =>
        firstSteps(finding)
          .filter(({ acts }) => acts.length > 0)
          .map((advice) => ({ finding, advice, on: onOf(finding, advice) })),
      );
      return steps.flatMap((a, i) =>
        steps
          .slice(i + 1)
          .filter(
            (b) =>
              a.finding !== b.finding &&
              a.advice.acts.some((act) => b.advice.acts.some((other) => opposes(act, other))) &&
              ground.meet(a.on, b.on),
          )
          .map((b) => `${a.finding.title}: ${a.advice.text} / ${b.finding.title}: ${b.advice.text}`),
      );
    });
    expect(clashes).toEqual([]);
  });

  test.each([
    [
      'food',
      /feed more|feed (it )?small food|feed the usual amount/i,
      /stop feeding|do not feed|feed little|stop food/i,
    ],
    [
      'carbonate',
      /correction of at most 1 dKH|raise the daily dose|repair slowly/i,
      /raise no dose|dose no carbonate/i,
    ],
    ['pH', /air the room and the water before|drive carbon dioxide out/i, /raise no pH/i],
  ])('reads so too, by the words alone: %s is not both given and left out in one water', (_, more, none) => {
    const both = all.flatMap(({ told }) => {
      const gives = told.filter(({ firstStep }) => more.test(firstStep));
      const stops = told.filter(({ firstStep }) => none.test(firstStep));
      return gives.flatMap((a) => stops.filter((b) => a !== b).map((b) => `${a.firstStep} / ${b.firstStep}`));
    });
    expect(both).toEqual([]);
  });

  test('reads so too, by the words alone: no lot is both moved and left, or both shaded and brought into more light', () => {
    const both = all.flatMap(({ told }) => {
      const byLot = Map.groupBy(
        told.filter(({ subject }) => subject.type === 'lot'),
        ({ subject }) => subject.id,
      );
      return [...byLot.values()].flatMap((alerts) => {
        const steps = alerts.map(({ firstStep }) => firstStep);
        const some = (words: RegExp) => steps.some((step) => words.test(step));
        const moved =
          some(/^move it|\. Move it/i) && some(/leave it where it stands|leave it in its|: leave it there/i);
        const lit = some(/dimmer place/i) && some(/Move it to \d+ µmol[^.]* or more/);
        return moved || lit ? [steps.join(' / ')] : [];
      });
    });
    expect(both).toEqual([]);
  });

  test('keeps the order: people, oxygen, source, apart, measure, correct, improve, look again', () => {
    for (const { told } of all)
      for (const finding of told) {
        const ranks = firstSteps(finding).map(phaseRank);
        expect(ranks, finding.firstStep).toEqual(ranks.toSorted((a, b) => a - b));
        expect(finding.firstStep).toBe(wordsOf(firstSteps(finding)));
      }
  });

  test('leaves every alert as urgent as it was, in its words, with something to do', () => {
    for (const { told, findings } of all)
      for (const [i, finding] of told.entries()) {
        const { severity, title, numbers, status } = findings[i] as Finding;
        expect(finding).toMatchObject({ severity, title, numbers, status });
        expect(finding.firstStep, finding.title).not.toBe('');
      }
  });

  test('loses nothing: what does not stand first waits, and what costs nothing and stands against nothing is never put off', () => {
    for (const { told, findings } of all)
      for (const [i, finding] of told.entries()) {
        const given = (findings[i] as Finding).advice.map(({ text }) => text);
        const kept = finding.advice.filter(({ added }) => added !== true).map(({ text }) => text);
        expect(kept.toSorted()).toEqual(given.toSorted());
        const putOff = finding.advice.filter(
          ({ waits, free, acts }) => waits === true && free && acts.length === 0,
        );
        expect(putOff).toEqual([]);
      }
  });

  test('puts nothing off without a reason', () => {
    for (const { told, ground } of all)
      for (const finding of told)
        for (const advice of finding.advice.filter(({ waits }) => waits === true)) {
          const onKit = kitsBehind(finding, ground).length > 0;
          const against = told.some(
            (other) =>
              other !== finding &&
              ground.meet(onOf(finding, advice), other.subject) &&
              (other.severity === 'now' ||
                isWaterTrouble(other, false) ||
                firstSteps(other).some(({ acts }) =>
                  acts.some((act) => advice.acts.some((own) => opposes(act, own))),
                )),
          );
          expect(finding.doubted || onKit || against, `${finding.title}: ${advice.text}`).toBe(true);
        }
  });

  test('rests nothing that could harm on a reading that waits for its repeat', () => {
    for (const { told } of all)
      for (const finding of told.filter(({ doubted }) => doubted))
        for (const { free, text } of firstSteps(finding))
          expect(free, `${finding.title}: ${text}`).toBe(true);
  });

  test('moves no lot and gives no more light while the water around it is dangerous', () => {
    const water = [
      'out-of-band',
      'ammonia',
      'overdose',
      'precipitation',
      'tissue-loss',
      'alkalinity-unsteady',
    ];
    for (const { told } of all) {
      if (!told.some(({ rule, severity }) => severity === 'now' && water.includes(rule))) continue;
      const steps = told
        .flatMap(firstSteps)
        .flatMap(({ acts, text }) => acts.map((act) => ({ ...act, text })));
      expect(steps.filter(({ lever, direction }) => lever === 'place' && direction === 'do')).toEqual([]);
      const more = steps.filter(
        ({ lever, direction, text }) => lever === 'light' && direction === 'up' && text !== '',
      );
      expect(more).toEqual([]);
    }
  });

  test('moves no lot where the forms of moves ask why: beside a level out of its band that harms within days', () => {
    const held = all.filter(({ told }) =>
      told.some(
        (one) => isWaterTrouble(one, false) && one.rule === 'out-of-band' && one.facet === 'alkalinity',
      ),
    );
    expect(held.length).toBeGreaterThan(50);
    for (const { told } of held)
      for (const { acts, text } of told.flatMap(firstSteps))
        expect(
          acts.filter(({ lever, direction }) => lever === 'place' && direction === 'do'),
          text,
        ).toEqual([]);
  });

  test('comes out the same when it is composed again', () => {
    for (const { told, ground } of all.slice(0, 400)) expect(arbitrate(told, ground, now)).toEqual(told);
  });
});
