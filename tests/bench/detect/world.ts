import type { Random } from '../../../src/science/statistics/random.ts';
import type {
  ChangeFact,
  DoseFact,
  LeftFact,
  LookedFact,
  ReadingFact,
} from '../../../src/watch/facts/types.ts';

import type { RoughInputs } from './rough-demand-world.ts';

/** What a farm has written down of one simulated water: facts of the watch, oldest first. Onset on day `onset`. */
export interface Logged {
  code: 'nitrate' | 'alkalinity';
  readings: ReadingFact[];
  changes: ChangeFact[];
  doses: DoseFact[];
  makeUp: number;
  left?: LeftFact[];
  looked?: LookedFact[];
  /** The level as it truly was at the hour of the tests, by day; in the unit of the world's own reckoning. */
  truth?: number[];
  /** What truly befell it, where one who knows the model is asked beside the rule. */
  inputs?: readonly RoughInputs[];
}

/** How often a water is tested. */
export type Habit = 'daily' | '2nd day' | '3 a week' | '2 a week' | 'weekly' | '2-weekly';

const gaps: Record<Habit, number[]> = {
  daily: [1],
  '2nd day': [2],
  '3 a week': [2, 2, 3],
  '2 a week': [3, 4],
  weekly: [7],
  '2-weekly': [14],
};

/** Days of tests: the habit's; irregular ones move by up to a sixth of the gap; some are missed. */
export function testDays(
  habit: Habit,
  days: number,
  random: Random,
  { missed, irregular }: { missed: number; irregular: boolean },
): number[] {
  const pattern = gaps[habit];
  const kept: number[] = [];
  let day = random.below(pattern[0] ?? 1);
  for (let i = 0; day < days; i++) {
    const gap = pattern[i % pattern.length] ?? 1;
    const shift = irregular ? Math.round((random.uniform() - 0.5) * Math.max(1, gap / 3)) : 0;
    const on = Math.max((kept.at(-1) ?? -1) + 1, day + shift);
    if (random.uniform() >= missed && on < days) kept.push(on);
    day += gap;
  }
  return kept;
}

/** A new kit every 60 to 120 days. */
export function kitDays(days: number, random: Random): number[] {
  const opened = [0];
  while ((opened.at(-1) ?? 0) < days) opened.push((opened.at(-1) ?? 0) + 60 + random.below(61));
  return opened;
}

/** A stationary AR(1) a day, SD 1, with this time constant in days. */
export function wandering(random: Random, timeDays: number): () => number {
  const kept = Math.exp(-1 / timeDays);
  const step = Math.sqrt(1 - kept * kept);
  let at = random.normal();
  return () => {
    at = kept * at + step * random.normal();
    return at;
  };
}
