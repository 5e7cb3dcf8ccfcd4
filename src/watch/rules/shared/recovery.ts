import type { ConditionState } from '../../../generated/prisma/enums.ts';
import type { ConditionFact } from '../../facts/types.ts';

/** What takes months to come back from. */
const grave: readonly ConditionState[] = ['bleached', 'receding'];
/** How ill a state is, without its grade: well 0. */
const weights: Partial<Record<ConditionState, number>> = { bleached: 3, receding: 3, paling: 1.5, well: 0 };
/** Two looks at which it is well, at least so many days apart, end a recovery. */
export const wellApart = 21;

/** A recovery under way: the looks since it was first noted bleached or receding, newest first. */
export interface Recovery {
  sinceDay: number;
  looks: ConditionFact[];
  worst: number;
  now: number;
  /** Against the look before the last: 1 worse, -1 better. */
  trend: -1 | 0 | 1;
  /** Looks in a row, up to the last, at which it was well. */
  wellLooks: number;
  wellSinceDay: number | null;
}

/** How ill a look shows a lot: 0 well, more with the state and its grade. */
export const illnessOf = ({ state, grade }: ConditionFact): number => {
  const weight = weights[state] ?? 1;
  return weight === 0 ? 0 : weight + (grade ?? 1) - 1;
};

/** The recovery that a lot is in; null when it was never that ill, or has come through. `conditions` newest first. */
export function recoveryOf(conditions: readonly ConditionFact[]): Recovery | null {
  const ended = conditions.findIndex((look, i) => look.state === 'well' && wellBefore(conditions, i));
  const since = ended === -1 ? conditions : conditions.slice(0, ended);
  const first = since.findLastIndex(({ state }) => grave.includes(state));
  const looks = since.slice(0, first + 1);
  const [latest, previous] = looks;
  if (latest === undefined) return null;
  const wellLooks = looks.findIndex(({ state }) => state !== 'well');
  return {
    sinceDay: looks.at(-1)?.day ?? latest.day,
    looks: [...looks],
    worst: Math.max(...looks.map(illnessOf)),
    now: illnessOf(latest),
    trend: previous === undefined ? 0 : trendOf(illnessOf(latest), illnessOf(previous)) || said(latest),
    wellLooks,
    wellSinceDay: wellLooks === 0 ? null : (looks[wellLooks - 1]?.day ?? null),
  };
}

const trendOf = (now: number, before: number) => (now > before ? 1 : now < before ? -1 : 0);

/** What whoever looked said of it, where state and grade say nothing. */
const said = ({ compared }: ConditionFact) => (compared === 'worse' ? 1 : compared === 'better' ? -1 : 0);

/** True where the looks before this one, without a break, were well for long enough. */
function wellBefore(conditions: readonly ConditionFact[], index: number): boolean {
  const at = conditions[index];
  for (const look of conditions.slice(index + 1)) {
    if (at === undefined || look.state !== 'well') return false;
    if (at.day - look.day >= wellApart) return true;
  }
  return false;
}
