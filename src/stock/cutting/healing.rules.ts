import { least } from 'd3-array';
import { dayMs } from '../../science/numeric/time.ts';

/** A look at the pieces of a cut, counted. */
export interface HealingCount {
  at: Date;
  alive: number;
  /** Of those alive; null where nobody said. */
  healed: number | null;
  dead: number;
  missing: number;
}

/**
 * When the pieces of a cut are looked at: from `day - early` on a look counts for this one, until `until` it is asked for
 * (days after the cut). First losses show within the first month (PeerJ, doi 10.7717/peerj.13248); wounds close in 81 to
 * 192 days (PLoS ONE 8 (2013) e72618). The days themselves are our own choice.
 */
export const HEALING_LOOKS = [
  { day: 7, early: 2, until: 20 },
  { day: 30, early: 7, until: 60 },
  { day: 90, early: 20, until: 120 },
] as const;

/** Days after a cut in which it may be asked for a look. */
export const ASKED_DAYS = 120;

/** What is known of one of the looks: nobody answered it in time is "unknown", never "alive". */
export interface HealingStage {
  day: number;
  dueAt: Date;
  state: 'counted' | 'due' | 'ahead' | 'unknown';
  /** The look that counts for it: the nearest to its day, so that a later one takes nothing away. */
  look: HealingCount | null;
}

/** The three looks after a cut, with what is known of each at a moment. */
export function healingStages(cutAt: Date, looks: readonly HealingCount[], now: Date): HealingStage[] {
  const after = (at: Date) => (at.getTime() - cutAt.getTime()) / dayMs;
  return HEALING_LOOKS.map(({ day, early, until }) => {
    const near = looks.filter(({ at }) => after(at) >= day - early && after(at) < until);
    const look = least(near.toReversed(), ({ at }) => Math.abs(after(at) - day)) ?? null;
    const days = after(now);
    const open = days < day ? 'ahead' : days < until ? 'due' : 'unknown';
    const dueAt = new Date(cutAt.getTime() + day * dayMs);
    return { day, dueAt, state: look === null ? open : 'counted', look };
  });
}

/** The look that is asked for now; null where none is. */
export const dueStage = (stages: readonly HealingStage[]): HealingStage | null =>
  stages.find(({ state }) => state === 'due') ?? null;

/** What somebody counted, as typed; null where a field was left empty. */
export interface TypedCount {
  alive: number;
  healed: number | null;
  dead: number | null;
  missing: number | null;
}

/** Why a count cannot be; '' where it can. */
export function countFault(
  { alive, healed, dead, missing }: TypedCount,
  expected: number,
): { field: 'alive' | 'healed' | 'missing'; message: string } | null {
  const counted = alive + (dead ?? 0) + (missing ?? 0);
  if (healed !== null && healed > alive)
    return { field: 'healed', message: 'More healed than alive. Healed ones count among the alive.' };
  if (counted === expected) return null;
  if (counted > expected)
    return {
      field: 'alive',
      message: `By its count there were ${expected} pieces; you counted ${counted}. Recount the lot first, or enter fewer.`,
    };
  return {
    field: 'missing',
    message: `By its count there were ${expected} pieces; you counted ${counted}. Say how many of the others were dead, and how many you did not find.`,
  };
}

/** "9 alive, 7 of them healed; 2 dead; 1 not found". */
export function healingWords({ alive, healed, dead, missing }: HealingCount): string {
  const closed = healed === null ? ', healed not said' : `, ${healed} of them healed`;
  const lost = [dead > 0 ? `${dead} dead` : '', missing > 0 ? `${missing} not found` : ''];
  return [`${alive} alive${alive > 0 ? closed : ''}`, ...lost.filter((part) => part !== '')].join('; ');
}
