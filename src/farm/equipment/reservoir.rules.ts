import { dayMs } from '../../science/numeric/time.ts';

/** What the books say of a container. */
export interface Reservoir {
  reservoirL: number | null;
  useLPerDay: number | null;
  filledAt: Date | null;
  filledL: number | null;
  /** What a doser's plan leaves in it, and when that was reckoned; null for all else. */
  reckonedL?: number | null;
  reckonedAt?: Date | null;
}

/** What is left in a container, by the litres it was filled with and the use a day. */
export interface Left {
  /** Litres; never below zero. */
  litres: number;
  days: number;
}

/** Litres and days left, from the newer of what was noted and what was reckoned; null where neither or the use a day is known. */
export function leftIn(container: Reservoir, now: Date): Left | null {
  const { useLPerDay } = container;
  const known = lastKnown(container);
  if (useLPerDay === null || known === null) return null;
  const used = (useLPerDay * (now.getTime() - known.at.getTime())) / dayMs;
  const litres = Math.max(0, known.litres - Math.max(0, used));
  return { litres, days: litres / useLPerDay };
}

function lastKnown({ filledAt, filledL, reckonedAt = null, reckonedL = null }: Reservoir) {
  const noted = filledAt === null || filledL === null ? null : { at: filledAt, litres: filledL };
  const reckoned = reckonedAt === null || reckonedL === null ? null : { at: reckonedAt, litres: reckonedL };
  return reckoned !== null && (noted === null || reckoned.at > noted.at) ? reckoned : noted;
}

/**
 * How far a quantity rises if the whole container runs into the system at once: litres x strength / volume, in the
 * quantity's unit. Null where a figure is missing. Mass balance.
 */
export function worstRise(
  { reservoirL, strength }: { reservoirL: number | null; strength: number | null },
  systemVolumeL: number,
): number | null {
  return reservoirL === null || strength === null ? null : (reservoirL * strength) / systemVolumeL;
}
