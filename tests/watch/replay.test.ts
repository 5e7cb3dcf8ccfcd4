import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type Finding, plainFinding } from '../../src/alerts/finding.ts';
import { ruleNamed } from '../../src/watch/rules/registry.ts';
import { factsAt } from '../../src/watch/trials/past-facts.rules.ts';
import { compare, Replay, type ReplayedAlert } from '../../src/watch/trials/replay.rules.ts';
import {
  blankKit,
  blankLot,
  blankSystem,
  dayZero,
  dose,
  madeId,
  onDay,
  reading,
  waterChange,
} from './facts.ts';

const creep = ruleNamed('nitrate-creep');
if (creep === undefined) throw new Error('no such rule');

function finding(status: Finding['status'], score: number): Finding {
  const amount = { label: 'Level', value: 10, text: '10', unit: 'mg/L' };
  return {
    ...plainFinding,
    rule: 'nitrate-creep',
    subject: { type: 'system', id: 'system' },
    systemId: 'system',
    status,
    severity: 'today',
    score,
    title: `Nitrate creeps, ${score}`,
    numbers: '',
    number: amount,
    limit: { ...amount, source: '' },
    why: '',
    firstStep: '',
  };
}

/** One finding or none a day, followed from day 0. */
function followed(days: readonly (Finding | null)[]): readonly ReplayedAlert[] {
  const replay = new Replay(creep as NonNullable<typeof creep>, 'Long run');
  for (const [day, found] of days.entries()) replay.follow(found === null ? [] : [found], onDay(day));
  return replay.alerts;
}

describe('a system as it was known on a day of the past', () => {
  const old = (facts: Parameters<typeof blankSystem>[0], day: number) =>
    factsAt(blankSystem(facts), onDay(day));

  test('holds what was measured until then, a late entry only from when it was written down', () => {
    const late = { ...reading(10, 9, 1), knownDay: dayZero + 14 };
    const readings = new Map([['nitrate', [reading(8, 8, 1), late, reading(12, 8, 1), reading(20, 8, 1)]]]);
    const values = (day: number) =>
      old({ readings }, day)
        .readings.get('nitrate')
        ?.map(({ value }) => value);
    expect(values(13)).toEqual([8, 8]);
    expect(values(15)).toEqual([8, 9, 8]);
  });

  test('holds no change, dose, look or light that came after, and a correction still running that ended since', () => {
    const correction = {
      id: madeId(),
      quantityCode: 'alkalinity',
      substance: 'soda',
      fromDay: dayZero + 2,
      toDay: dayZero + 9,
      fromValue: 2.5,
      target: 2.9,
      dailyCap: 0.2,
      steps: [{ id: madeId(), dueDay: dayZero + 4, expectedAfter: 2.7, retest: false, doneDay: dayZero + 6 }],
    };
    const look = (day: number) => ({
      id: madeId(),
      day: dayZero + day,
      at: '',
      state: 'well' as const,
      grade: null,
      compared: null,
      note: '',
    });
    const light = (day: number) => ({ fromDay: dayZero + day, par: 80, dli: 3, error: 1, estimated: false });
    const then = old(
      {
        changes: [waterChange(1, 0.1), waterChange(8, 0.1)],
        doses: [dose(2, 'nitrate', 1), dose(7, 'nitrate', 1)],
        corrections: [correction],
        lots: [blankLot({ conditions: [look(8), look(3)], light: [light(0), light(7)] })],
      },
      5,
    );
    expect([then.changes.length, then.doses.length]).toEqual([1, 1]);
    expect(then.corrections).toMatchObject([{ toDay: null, steps: [{ doneDay: null }] }]);
    expect(then.lots[0]?.conditions).toHaveLength(1);
    expect(then.lots[0]?.light).toHaveLength(1);
  });

  test('has the kits of that day: not opened later, nor put away before, with the uses they had then', () => {
    const system = (firstDay: number) => {
      const readings = [2, 6].map((day) => reading(day, 3, 0.1, { kitId: 'kit' }));
      return { systemId: madeId(), name: '', firstDay: dayZero + firstDay, readings };
    };
    const kit = blankKit({ id: 'kit', used: 12, systems: [system(2)] });
    const kits = (known: Partial<typeof kit>, day: number) => old({ kits: [{ ...kit, ...known }] }, day).kits;
    expect(kits({}, 5)).toMatchObject([{ used: 11 }]);
    expect(kits({}, 1)).toEqual([]);
    expect(kits({ retiredDay: dayZero + 4 }, 5)).toEqual([]);
  });

  test('knows when work was last done as of then', () => {
    const readings = new Map([['alkalinity', [reading(1, 3, 0.1), reading(9, 3, 0.1)]]]);
    const test = {
      id: madeId(),
      work: 'test' as const,
      quantityCode: 'alkalinity',
      words: 'alkalinity test',
      weekdays: [],
      everyDays: 2,
    };
    const routines = [{ ...test, startsDay: dayZero, lastDay: dayZero + 9 }];
    expect(old({ readings, routines }, 5).routines).toMatchObject([{ lastDay: dayZero + 1 }]);
  });
});

describe('the alerts there would have been', () => {
  test('open where the rule fires, keep the worst urgency, and clear after its quiet time', () => {
    const quiet = Array.from({ length: 12 }, () => null);
    const alerts = followed([
      null,
      finding('stays', 0.95),
      finding('fires', 1.1),
      finding('stays', 0.9),
      ...quiet,
    ]);
    const days = creep.quietHours / 24;
    expect(alerts).toMatchObject([
      { openedAt: onDay(2).toISOString(), clearedAt: onDay(4 + days).toISOString(), severity: 'today' },
    ]);
  });

  test('never flap, whatever is found: none opens again before its quiet time has passed', () => {
    const found = fc.option(
      fc.record({
        status: fc.constantFrom('fires' as const, 'stays' as const, 'unknown' as const),
        score: fc.double({ min: 0.5, max: 3, noNaN: true }),
      }),
    );
    fc.assert(
      fc.property(fc.array(found, { maxLength: 120 }), (days) => {
        const findings = days.map((one) => (one === null ? null : finding(one.status, one.score)));
        const alerts = followed(findings);
        for (const [i, alert] of alerts.entries()) {
          const opened = Math.round((Date.parse(alert.openedAt) - onDay(0).getTime()) / 86_400_000);
          expect(findings[opened]?.status).toBe('fires');
          const before = alerts[i - 1];
          if (before === undefined) continue;
          // One at a time, and the one before lasted its quiet time at least.
          expect(before.clearedAt !== null && before.clearedAt < alert.openedAt).toBe(true);
          const lasted = Date.parse(before.clearedAt ?? '') - Date.parse(before.openedAt);
          expect(lasted).toBeGreaterThanOrEqual(creep.quietHours * 3_600_000);
        }
      }),
    );
  });

  test('stand side by side where they are the same alert, alone where only one limit raises it', () => {
    const alert = (openedAt: string, clearedAt: string | null, key = 'a') => ({
      key,
      title: '',
      systemName: '',
      href: '',
      severity: 'today' as const,
      openedAt,
      clearedAt,
    });
    const [early, late] = [alert('2026-03-02', '2026-03-09'), alert('2026-05-01', null)];
    const tried = alert('2026-03-05', '2026-03-20');
    expect(compare([early, late], [tried, alert('2026-04-01', '2026-04-03', 'b')])).toMatchObject([
      { before: early, after: tried },
      { before: null, after: { key: 'b' } },
      { before: late, after: null },
    ]);
  });
});
