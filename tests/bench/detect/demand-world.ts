import { useWorld } from '../../watch/demand-worlds.ts';
import type { Logged } from './world.ts';

export interface DemandPlan {
  /** Days between tests, and their SD in dKH. */
  gap: number;
  testSd: number;
  /** What the use is multiplied by from the onset; 1 for none. */
  factor: number;
  days: number;
  onset: number;
}

/** Alkalinity that stock uses and doses follow, as the tests of the demand's rule make it, with other seeds. */
export function demandWorld({ gap, testSd, factor, days, onset }: DemandPlan, seed: number): Logged {
  const { readings, changes, doses, kept } = useWorld({
    seed,
    days,
    gap,
    testSd,
    factor,
    onset,
    growth: 0.0005,
  });
  return {
    code: 'alkalinity',
    readings: [...(readings.get('alkalinity') ?? [])],
    changes: [...changes],
    doses: doses.filter(({ quantityCode }) => quantityCode === 'alkalinity'),
    makeUp: kept.get('alkalinity')?.makeUp ?? 0,
  };
}
