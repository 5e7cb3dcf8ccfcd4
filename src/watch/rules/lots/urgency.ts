import type { Severity } from '../../../alerts/finding.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import type { LotFact } from '../../facts/types.ts';
import { standsStill } from '../shared/conditions.ts';
import { fastLoss } from './fast-loss.ts';

/** By grade: a little, about a third, most of it. A pest is told of its whole water instead. */
export const severities: Partial<Record<ConditionState, readonly [Severity, Severity, Severity]>> = {
  paling: ['watch', 'today', 'today'],
  bleached: ['today', 'now', 'now'],
  receding: ['today', 'now', 'now'],
  polyps_shut: ['watch', 'watch', 'today'],
  silt: ['watch', 'today', 'today'],
  algae: ['watch', 'watch', 'today'],
  loose: ['watch', 'watch', 'watch'],
  jet: ['today', 'today', 'now'],
  other: ['watch', 'watch', 'today'],
};

/** How urgent a lot is by its last look; only watched where it was well. */
export function urgencyOf({ conditions }: Pick<LotFact, 'conditions'>): Severity {
  const [latest] = conditions;
  const byGrade = latest === undefined ? undefined : severities[latest.state];
  if (latest === undefined || byGrade === undefined) return 'watch';
  if (fastLoss(conditions) !== null) return 'now';
  // What is gone does not come back by today: an edge that stands still is looked at, and not acted on now.
  if (standsStill(conditions)) return byGrade[0];
  // Seen worse, it counts as one grade more: whoever looked saw what the grade is too coarse for (own choice).
  const grade = Math.min(3, (latest.grade ?? 1) + (latest.compared === 'worse' ? 1 : 0));
  return byGrade[grade - 1] ?? 'today';
}
