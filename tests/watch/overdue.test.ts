import { describe, expect, test } from 'vitest';
import type { RoutineFact } from '../../src/watch/facts/types.ts';
import { overdue } from '../../src/watch/rules/work/overdue.ts';
import { blankSystem, dayZero, find, madeId } from './facts.ts';

const routine = (more: Partial<RoutineFact> = {}): RoutineFact => ({
  id: madeId(),
  work: 'water_change',
  quantityCode: null,
  words: 'water change',
  everyDays: 7,
  weekdays: [],
  startsDay: dayZero,
  lastDay: dayZero + 0.5,
  ...more,
});
const on = (day: number, ...routines: RoutineFact[]) => find(overdue, blankSystem({ routines }), day);
const titles = (day: number, ...routines: RoutineFact[]) => on(day, ...routines).map(({ title }) => title);

describe('overdue', () => {
  test('is nothing where nobody planned anything', () => {
    expect(on(100)).toEqual([]);
  });

  test('is what was not logged for half its interval past its day', () => {
    expect(titles(9.9, routine())).toEqual([]);
    expect(titles(10.5, routine())).toEqual([]);
    expect(titles(11.1, routine())).toEqual(['Long run: water change overdue by 4 days']);
  });

  test('is at least a day past, whatever the interval: today may be done until tomorrow evening', () => {
    const daily = routine({
      work: 'test',
      quantityCode: 'alkalinity',
      words: 'alkalinity test',
      everyDays: 1,
    });
    expect(titles(1.9, daily)).toEqual([]);
    expect(titles(2.1, daily)).toEqual(['Long run: alkalinity test overdue by 1 day']);
  });

  test('begins to watch and becomes today’s matter after a whole interval', () => {
    expect(on(12, routine())[0]?.severity).toBe('watch');
    expect(on(15, routine())[0]?.severity).toBe('today');
  });

  test('counts from the first day where it was never done', () => {
    expect(on(4, routine({ lastDay: null }))[0]?.numbers).toContain('never logged');
    expect(titles(3, routine({ lastDay: null }))).toEqual([]);
  });

  test('of several in one system is one alert that explains each', () => {
    const found = on(
      20,
      routine(),
      routine({ work: 'feeding', words: 'feeding of fine food', everyDays: 3 }),
    );
    expect(found.map(({ title }) => title)[0]).toBe('Long run: 2 routines are overdue');
    const [together, ...each] = found;
    expect(each).toHaveLength(2);
    for (const one of each)
      expect(one.causes).toEqual([{ rule: 'overdue', subject: together?.subject, facet: together?.facet }]);
    expect(together?.severity).toBe('today');
  });

  test('says never to make up for what was missed', () => {
    for (const work of ['water_change', 'dose', 'feeding'] as const)
      expect(on(20, routine({ work }))[0]?.firstStep).toMatch(/not (make up|give)|Never give/);
  });

  test('goes by the farm’s own days', () => {
    // Midnight in Auckland is 11:00 UTC in January.
    const facts = blankSystem({
      timeZone: 'Pacific/Auckland',
      routines: [routine({ startsDay: dayZero - 13 / 24 })],
    });
    const late = (day: number) => find(overdue, facts, day).map(({ title }) => title);
    // Done on 2 January there, due on the 8th, overdue on the 12th, which begins while it is the 11th in UTC.
    expect(late(10.4)).toEqual([]);
    expect(late(10.5)).toHaveLength(1);
  });
});
