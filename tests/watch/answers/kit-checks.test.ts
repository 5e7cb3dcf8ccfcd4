import { describe, expect, test } from 'vitest';
import type { OpenAlert } from '../../../src/alerts/diff.rules.ts';
import { plainFinding } from '../../../src/alerts/finding.ts';
import type { Action } from '../../../src/watch/answers/actions.ts';
import { answerTo } from '../../../src/watch/answers/answers.rules.ts';
import { blankKit, blankSystem, dayZero, onDay } from '../facts.ts';

// How many tests tell of a kit is what the words of its alert ask for; made up.

const facts = blankSystem({
  kits: [blankKit({ id: 'kit', quantityCode: 'alkalinity', openedDay: dayZero - 60 })],
});
const subject = { type: 'kit' as const, id: 'kit' };
const alert: OpenAlert = {
  ...{ id: 'alert', rule: 'kit-unfit', subject, facet: '', systemId: facts.systemId, openedAt: onDay(0) },
  finding: {
    ...plainFinding,
    ...{ rule: 'kit-unfit', subject, systemId: facts.systemId, href: '', status: 'fires', severity: 'watch' },
    ...{ score: 1, title: 'Kit: unchecked', numbers: '', why: '', firstStep: '' },
    number: { label: '', value: 1, text: '', unit: '' },
    limit: { label: '', value: 1, text: '', unit: '', source: '' },
  },
  ...{ title: 'Kit: unchecked', severity: 'watch', reported: { score: 1, severity: 'watch' }, worst: 1 },
  ...{ quietSince: null, putOffUntil: null, putOffWorst: null, doubted: false },
};
const act = (kind: Action['kind'], day: number, subjectId: string): Action => ({
  ...{ kind, at: onDay(day), who: 'A', subjectId, name: kind, amount: null, before: null, contents: null },
  quantityCode: kind === 'said' ? null : 'alkalinity',
});
const answered = (...actions: Action[]) => answerTo(alert, { facts, actions, found: null, now: onDay(2) });

describe('a kit that was to be checked', () => {
  const said = act('said', 1.2, 'alert');
  const check = (day: number, kit = 'kit') => act('check', day, kit);

  test('is confirmed by two tests of a standard, also where somebody then says that it was done', () => {
    expect(answered(check(1))?.confirmedAt).toBeNull();
    expect(answered(check(1), check(1.1))?.confirmedAt).toBe(onDay(1.1).toISOString());
    expect(answered(check(1), check(1.1), said)?.confirmedAt).toBe(said.at.toISOString());
  });

  test('but not by the word alone, by one test, or by tests of another kit', () => {
    expect(answered(said)?.confirmedAt).toBeNull();
    expect(answered(check(1), said)?.confirmedAt).toBeNull();
    expect(answered(check(1, 'other'), check(1.1, 'other'), said)?.confirmedAt).toBeNull();
  });

  test('put away, three tests of the one in its place tell', () => {
    const away = act('kit put away', 0.5, 'kit');
    const others = [1, 1.05, 1.1].map((day) => check(day, 'other'));
    expect(answered(away, ...others.slice(0, 2), said)?.confirmedAt).toBeNull();
    expect(answered(away, ...others, said)?.confirmedAt).toBe(said.at.toISOString());
  });
});
