import { describe, expect, test } from 'vitest';
import type { OpenAlert } from '../../../src/alerts/diff.rules.ts';
import type { Action } from '../../../src/watch/answers/actions.ts';
import { answerTo } from '../../../src/watch/answers/answers.rules.ts';
import { lightStep } from '../../../src/watch/rules/light/light-step.ts';
import { blankSystem, find, onDay } from '../facts.ts';
import { blankRack, survey } from '../kinds.ts';

// What confirms that light is right again is a survey; made up.

const lamps = { ...{ id: 'lamp', name: 'Over N3', tankName: 'Raceway 1' }, settings: [] };
const measuredOn = (...days: number[]) =>
  blankSystem({
    lamps: [lamps],
    racks: [
      blankRack({
        lampId: 'lamp',
        surveys: [survey(0, 240), survey(90, 170), ...days.map((day) => survey(day, 170))],
      }),
    ],
  });
const [finding] = find(lightStep, measuredOn(), 100);
if (finding === undefined) throw new Error('Its lamps give less, and nothing is found.');
const alert: OpenAlert = {
  ...finding,
  ...{ id: 'alert', openedAt: onDay(100), finding, reported: { score: 1, severity: 'today' }, worst: 1 },
  ...{ quietSince: null, putOffUntil: null, putOffWorst: null },
};
const act = (kind: Action['kind'], day: number, subjectId: string, percents = [70, 70]): Action => ({
  ...{ kind, at: onDay(day), who: 'A', subjectId, name: kind, quantityCode: null, contents: null },
  ...{ amount: percents[1] ?? null, before: percents[0] ?? null },
});
const confirmed = (facts: ReturnType<typeof blankSystem>, ...actions: Action[]) =>
  answerTo(alert, { facts, actions, found: null, now: onDay(103) })?.confirmedAt;

describe('lamps that were to be measured again', () => {
  const said = act('said', 101, 'alert');

  test('are confirmed by the survey that was one of the steps, also where somebody then says that they were done', () => {
    expect(confirmed(measuredOn(100.9), said)).toBe(onDay(100.9).toISOString());
    expect(confirmed(measuredOn(101.5), said)).toBe(onDay(101.5).toISOString());
  });

  test('but not by the word alone, nor by a survey before the alert or before they were turned', () => {
    expect(confirmed(measuredOn(), said)).toBeNull();
    expect(confirmed(measuredOn(99), said)).toBeNull();
    expect(confirmed(measuredOn(100.5), act('lamps', 100.8, 'lamp', [70, 60]), said)).toBeNull();
  });
});
