import { describe, expect, test } from 'vitest';
import { daysAfter } from '../../src/science/numeric/time.ts';
import { healingStages } from '../../src/stock/cutting/healing.rules.ts';

const cutAt = new Date('2026-11-11T09:00:00Z');
const on = (day: number, alive: number) => ({
  ...{ at: daysAfter(cutAt, day), alive, healed: null, dead: 0, missing: 0 },
});

describe('the looks after a cut', () => {
  test('a count of day 19 takes nothing from the count of day 6', () => {
    const [week] = healingStages(cutAt, [on(6, 5), on(19, 4)], daysAfter(cutAt, 19));
    expect(week).toMatchObject({ day: 7, state: 'counted', look: { alive: 5 } });
  });

  test('a count of day 19 alone stands for the first look, with its own day', () => {
    const [week] = healingStages(cutAt, [on(19, 4)], daysAfter(cutAt, 19));
    expect(week?.look).toMatchObject({ alive: 4, at: daysAfter(cutAt, 19) });
  });

  test('of two counts of one moment the one entered later counts', () => {
    const [week] = healingStages(cutAt, [on(7, 5), on(7, 4)], daysAfter(cutAt, 8));
    expect(week?.look).toMatchObject({ alive: 4 });
  });
});
