import { describe, expect, test } from 'vitest';
import { causesOf } from '../../src/alerts/causes.rules.ts';
import { type Aftermath, diffAlerts, type OpenAlert } from '../../src/alerts/diff.rules.ts';
import { type Answer, type Finding, plainFinding } from '../../src/alerts/finding.ts';
import { rules } from '../../src/watch/rules/registry.ts';
import { onDay } from '../watch/facts.ts';

const amount = { label: 'Level', value: 10, text: '10', unit: 'mg/L' };

function finding(known: Partial<Finding> = {}): Finding {
  return {
    ...plainFinding,
    rule: 'nitrate-creep',
    subject: { type: 'system', id: 'system' },
    systemId: 'system',
    status: 'fires',
    severity: 'today',
    score: 1,
    title: 'Long run: nitrate creeps',
    numbers: '',
    number: amount,
    limit: { ...amount, source: '' },
    why: '',
    firstStep: '',
    ...known,
  };
}

function alert(known: Partial<OpenAlert> = {}): OpenAlert {
  return {
    id: 'alert',
    rule: 'nitrate-creep',
    subject: { type: 'system', id: 'system' },
    facet: '',
    systemId: 'system',
    severity: 'today',
    title: 'Long run: nitrate creeps',
    openedAt: onDay(1),
    finding: finding(),
    reported: { score: 1, severity: 'today' },
    doubted: false,
    worst: 1,
    quietSince: null,
    putOffUntil: null,
    putOffWorst: null,
    ...known,
  };
}

const nothingDone: Aftermath = {
  endedBecause: () => 'the test of 3 Mar gave 8',
  answerTo: () => null,
  words: ({ found, ended }) => ({ ...found, why: ended ?? found.why }),
};
const diff = (
  open: OpenAlert[],
  findings: Finding[],
  day = 10,
  gone: string | null = null,
  aftermath: Partial<Aftermath> = {},
) =>
  diffAlerts({
    open,
    findings,
    rules,
    now: onDay(day),
    goneBecause: () => gone,
    aftermath: { ...nothingDone, ...aftermath },
  });
const kinds = (plan: ReturnType<typeof diff>) => plan.changes.map(({ kind }) => kind);

describe('findings against open alerts', () => {
  test.each([
    ['a finding that fires opens one', [], [finding()], ['opened']],
    ['one that merely stays does not', [], [finding({ status: 'stays' })], []],
    ['one that cannot be told does not', [], [finding({ status: 'unknown' })], []],
    ['the same again is not told again', [alert()], [finding()], []],
    ['a little more is not told', [alert()], [finding({ score: 1.2 })], []],
    ['a quarter more is worse', [alert()], [finding({ score: 1.25 })], ['worse']],
    ['more urgent is worse', [alert()], [finding({ severity: 'now' })], ['worse']],
    ['a quarter less is better', [alert()], [finding({ score: 0.8 })], ['better']],
    ['less urgent by itself is not told', [alert()], [finding({ severity: 'watch' })], []],
    ['another facet is another alert', [alert()], [finding(), finding({ facet: 'x' })], ['opened']],
    ['nothing found is quiet at first', [alert()], [], []],
    ['a rule that is no more clears', [alert({ rule: 'old' })], [], ['cleared']],
  ] as const)('%s', (_, open, findings, expected) => {
    expect(kinds(diff([...open], [...findings]))).toEqual(expected);
  });

  test('clears when it was quiet for the rule’s time, not before, and a finding starts the time anew', () => {
    const [update] = diff([alert()], [], 10).updates;
    expect(update).toMatchObject({ quietSince: onDay(10), clearedReason: null });
    const quiet = alert({ quietSince: onDay(10) });
    expect(kinds(diff([quiet], [], 16.9))).toEqual([]);
    expect(kinds(diff([quiet], [], 17))).toEqual(['cleared']);
    expect(diff([quiet], [finding({ status: 'stays' })], 16).updates[0]).toMatchObject({
      quietSince: null,
    });
  });

  const answer = (known: Partial<Answer> = {}): Answer => ({
    what: 'water change of 180 L (10 %)',
    by: 'Ines',
    noted: false,
    at: onDay(9).toISOString(),
    confirm: 'a test of nitrate',
    dueAt: onDay(12).toISOString(),
    confirmedAt: null,
    overdue: false,
    ...known,
  });

  test('one that was acted on is told once, is less urgent, and rises again once when its test is overdue', () => {
    const now = alert({ reported: { score: 1, severity: 'now' }, severity: 'now' });
    const found = [finding({ severity: 'now' })];
    const plan = diff([now], found, 10, null, { answerTo: () => answer() });
    expect(plan).toMatchObject({ changes: [{ kind: 'acted' }], updates: [{ severity: 'today' }] });
    const acted = { ...now, finding: plan.updates[0]?.finding as Finding };
    const late = { answerTo: () => answer({ overdue: true }) };
    expect(kinds(diff([acted], found, 10, null, { answerTo: () => answer() }))).toEqual([]);
    const risen = diff([acted], found, 12, null, late);
    expect(risen).toMatchObject({ changes: [{ kind: 'back' }], updates: [{ severity: 'now' }] });
    const told = { ...acted, finding: risen.updates[0]?.finding as Finding };
    expect(kinds(diff([told], found, 13, null, late))).toEqual([]);
  });

  test('one that was acted on does not clear before it is confirmed, however long nothing is found', () => {
    const quiet = alert({ quietSince: onDay(10) });
    expect(kinds(diff([quiet], [], 40, null, { answerTo: () => answer() }))).toEqual(['acted']);
    const confirmed = { answerTo: () => answer({ confirmedAt: onDay(39).toISOString() }) };
    expect(kinds(diff([quiet], [], 40, null, confirmed))).toContain('cleared');
  });

  test('one that is quiet is only watched, and has its own words again when it clears', () => {
    const [update] = diff([alert()], [], 10).updates;
    expect(update).toMatchObject({ severity: 'watch', finding: { why: 'the test of 3 Mar gave 8' } });
    const quiet = alert({ quietSince: onDay(1), finding: update?.finding as Finding });
    const plan = diff([quiet], [], 40);
    expect(plan.updates).toMatchObject([{ severity: 'today', finding: { why: '' } }]);
    expect(plan.changes).toMatchObject([{ detail: { because: 'the test of 3 Mar gave 8' } }]);
  });

  test('does not flap: about the limit nothing is told in forty evaluations', () => {
    let open = [alert()];
    const told: string[] = [];
    for (let day = 10; day < 50; day++) {
      const status = day % 2 === 0 ? 'fires' : 'stays';
      const plan = diff(open, [finding({ status, score: day % 2 === 0 ? 1.1 : 0.9 })], day);
      told.push(...kinds(plan));
      open = open.map((one) => ({ ...one, quietSince: plan.updates[0]?.quietSince ?? null }));
    }
    expect(told).toEqual([]);
  });

  test('what cannot be told now keeps an alert as it is', () => {
    const plan = diff([alert({ quietSince: onDay(1) })], [finding({ status: 'unknown' })], 300);
    expect(plan.updates).toMatchObject([{ finding: null, clearedReason: null }]);
  });

  test('clears at once when its subject is gone, and says why', () => {
    const plan = diff([alert()], [finding()], 10, 'the kit is put away');
    expect(plan.updates).toMatchObject([{ clearedReason: 'the kit is put away' }]);
  });

  test('one that is put off comes back on its day, or when it gets a quarter worse than then', () => {
    const off = alert({
      putOffUntil: onDay(20),
      putOffWorst: 1.2,
      reported: { score: 1.2, severity: 'today' },
    });
    expect(kinds(diff([off], [finding({ score: 1.4 })]))).toEqual([]);
    expect(kinds(diff([off], [finding({ score: 1.5 })]))).toEqual(['worse', 'back']);
    expect(kinds(diff([off], [finding({ score: 1.2 })], 20))).toEqual(['back']);
    expect(kinds(diff([off], [finding({ severity: 'now', score: 1.2 })]))).toEqual(['worse', 'back']);
    expect(kinds(diff([off], [], 20))).toEqual(['back']);
  });
});

describe('causes', () => {
  const key = (rule: string) => ({ rule, subject: { type: 'lot' as const, id: 'one' }, facet: '' });
  const linked = (id: string, ...causes: string[]) => ({
    id,
    key: key(id),
    causes: causes.map(key),
    causeId: null,
    quiet: false,
  });
  const quiet = (id: string) => ({ ...linked(id), quiet: true });

  test.each([
    ['one with no cause is a root', [linked('lamp')], { lamp: null }],
    ['a cause that is not open explains nothing', [linked('paling', 'light')], { paling: null }],
    [
      'the first of its causes that is open explains it',
      [linked('lamp'), linked('heat'), linked('paling', 'light', 'lamp', 'heat')],
      { lamp: null, heat: null, paling: 'lamp' },
    ],
    [
      'a cause with a cause of its own hands on what it explains',
      [linked('lamp'), linked('light', 'lamp'), linked('paling', 'light')],
      { lamp: null, light: 'lamp', paling: 'lamp' },
    ],
    [
      'a cause that is not found any more hides nothing that goes on',
      [quiet('lamp'), linked('heat'), linked('paling', 'lamp'), linked('other', 'lamp', 'heat')],
      { lamp: null, heat: null, paling: null, other: 'heat' },
    ],
    ['one that names itself is a root', [linked('a', 'a')], { a: null }],
    [
      'two that explain each other are both roots',
      [linked('a', 'b'), linked('b', 'a')],
      { a: null, b: null },
    ],
    [
      'one that leads into a ring is a root too',
      [linked('a', 'b'), linked('b', 'a'), linked('c', 'a')],
      { a: null, b: null, c: null },
    ],
  ] as const)('%s', (_, alerts, expected) => {
    expect(Object.fromEntries(causesOf(alerts))).toEqual(expected);
  });
});
