import type { SlopeReading, SlopeState } from '../../science/filter/slope.ts';
import { newestRun, type Run } from '../../science/trend.ts';

/**
 * The newest run of tests where it goes on more steeply than the level that is followed, by more than the run's own error: months
 * of steady tests make a filter slow to believe a week that falls by the same each day. Null where the filter has it all.
 *
 * @param tests oldest first; a bound or another kit ends what a run can be of
 */
export function steeperRun(tests: readonly SlopeReading[], followed: SlopeState): Run | null {
  const cut = tests.findLastIndex(({ bound, jumpSd }) => bound !== undefined || jumpSd !== undefined);
  const from = tests[cut]?.bound === undefined ? Math.max(0, cut) : cut + 1;
  const run = newestRun(tests.slice(from).map(({ day, value, sd }) => ({ day, value, u: sd })));
  if (run === null) return null;
  const way = Math.sign(run.slope);
  return way * run.slope > way * followed.slope + run.slopeSd ? run : null;
}
