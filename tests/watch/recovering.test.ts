import { describe, expect, test } from 'vitest';
import type { ConditionFact } from '../../src/watch/facts/types.ts';
import { conditionNoted } from '../../src/watch/rules/lots/condition-noted.ts';
import { recovering } from '../../src/watch/rules/lots/recovering.ts';
import { blankKit, blankSystem, dayZero, find, onDay, reading } from './facts.ts';
import { blankRack, look, lotOf } from './kinds.ts';

const world = (...looks: ConditionFact[]) =>
  blankSystem({ lots: [lotOf('platygyra-daedalea', { conditions: looks.reverse() })], racks: [blankRack()] });
const follow = (day: number, ...looks: ConditionFact[]) => find(recovering, world(...looks), day)[0] ?? null;

describe('the recovery watch', () => {
  test('follows what bleached or receded, not what only paled', () => {
    expect(follow(20, look(10, 'paling', 2), look(14, 'paling', 1))).toBeNull();
    expect(follow(11, look(10, 'bleached', 2))).toBeNull();
    expect(follow(14, look(10, 'bleached', 2))?.title).toContain('check it');
  });

  test('asks for looks every 3 days at first, each week until two months, then every two weeks', () => {
    const asks = (began: number, last: number, day: number) =>
      follow(day, look(began, 'receding', 2), look(last, 'receding', 2))?.severity;
    expect([asks(0, 10, 12), asks(0, 10, 13)]).toEqual(['watch', 'today']);
    expect([asks(0, 40, 46), asks(0, 40, 47)]).toEqual(['watch', 'today']);
    expect([asks(0, 90, 103), asks(0, 90, 104)]).toEqual(['watch', 'today']);
  });

  test('says how it goes: better, as before, worse', () => {
    const bleached = look(0, 'bleached', 2);
    expect(follow(12, bleached, look(10, 'bleached', 1))?.title).toContain('recovering');
    expect(follow(12, bleached, look(10, 'bleached', 2))?.title).toContain('no longer recovering');
    expect(follow(12, bleached, look(10, 'bleached', 3))).toMatchObject({
      severity: 'today',
      title: '247-6TY on N3, B4: its recovery turned, it is worse',
    });
  });

  test('a look "no worse" is a look, never a word of health; "better" and "worse" turn it where state and grade say nothing', () => {
    const said = (compared: ConditionFact['compared'], day = 10) => ({
      ...look(day, 'bleached', 2),
      compared,
    });
    const bleached = look(0, 'bleached', 2);
    expect(follow(12, bleached, said('as_before'))).toMatchObject({
      severity: 'watch',
      title: expect.stringContaining('no longer recovering'),
      numbers: expect.stringContaining('bleached, about a third, no worse'),
    });
    expect(follow(60, bleached, ...[10, 20, 31, 45, 58].map((day) => said('as_before', day)))).not.toBeNull();
    expect(follow(12, bleached, said('better'))?.title).toContain('recovering');
    expect(follow(12, bleached, said('worse'))).toMatchObject({ severity: 'today' });
    const noted = (...looks: ConditionFact[]) => find(conditionNoted, world(...looks), 12)[0];
    const [receding, pale] = [look(10, 'receding', 1), look(10, 'paling', 1)];
    const smell = { ...receding, note: 'it smells' };
    const then = (first: ConditionFact, compared: ConditionFact['compared']) => ({
      ...first,
      id: 'then',
      day: first.day + 1,
      note: '',
      compared,
    });
    // What told of rot the day before still stands where it is no worse.
    expect(noted(smell, then(smell, 'as_before'))).toMatchObject({
      severity: 'now',
      why: expect.stringContaining('it smells'),
    });
    expect(noted(receding, then(receding, 'as_before'))).toMatchObject({ severity: 'today' });
    expect(noted(receding, then(receding, 'worse'))).toMatchObject({
      severity: 'now',
      why: expect.stringContaining('seen worse than 24 hours before'),
    });
    expect(noted(pale, then(pale, 'worse'))?.severity).toBe('today');
    expect(noted(pale, then(pale, 'better'))?.severity).toBe(noted(pale)?.severity);
  });

  test('ends when it was well twice, three weeks apart, and begins anew with the next trouble', () => {
    const course = [look(0, 'bleached', 2), look(30, 'paling', 1), look(60, 'well')];
    expect(follow(65, ...course)?.title).toContain('well again, check once more');
    expect(follow(75, ...course, look(74, 'well'))).not.toBeNull();
    expect(follow(82, ...course, look(74, 'well'), look(81, 'well'))).toBeNull();
    expect(follow(101, ...course, look(81, 'well'), look(95, 'receding', 1))?.figures[0]?.text).toContain(
      'receding',
    );
  });
});

describe('a receding lot', () => {
  test('in a system with raised nitrate says so first, and lists what changed lately, the latest first', () => {
    const neighbour = lotOf('galaxea-fascicularis', {
      code: 'CRYSTAL',
      placedDay: dayZero + 90,
      cells: [{ row: 2, column: 5 }],
    });
    const receding = lotOf('platygyra-daedalea', {
      placedDay: dayZero + 85,
      conditions: [look(100, 'receding', 1)],
    });
    const facts = blankSystem({
      lots: [receding, neighbour],
      racks: [blankRack()],
      kits: [blankKit({ label: 'Alkalinity 8', openedDay: dayZero + 95, openedAt: onDay(95).toISOString() })],
      readings: new Map([['nitrate', Array.from({ length: 12 }, (_, i) => reading(50 + 4 * i, 44, 2))]]),
    });
    const [finding] = find(conditionNoted, facts, 101);
    expect(finding?.why).toMatch(/Nitrate is raised here, 44/);
    expect(finding?.figures[1]).toEqual({
      label: 'Changed before it was seen, latest first',
      text: 'kit Alkalinity 8 opened, so a level may only look changed, 6 Apr 2026; CRYSTAL (Galaxea fascicularis) set beside it, 1 Apr 2026; set on N3, B4, 27 Mar 2026',
    });
  });

  test('says nothing of nitrate where it is as it should be', () => {
    const readings = new Map([['nitrate', Array.from({ length: 12 }, (_, i) => reading(50 + 4 * i, 8, 1))]]);
    const lots = [lotOf('platygyra-daedalea', { conditions: [look(100, 'receding', 1)] })];
    expect(
      find(conditionNoted, blankSystem({ lots, readings, racks: [blankRack()] }), 101)[0]?.why,
    ).not.toContain('itrate is raised');
  });
});
