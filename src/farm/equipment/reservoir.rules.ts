import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dayMs } from '../../science/numeric/time.ts';

/** What the books say of a container. */
export interface Reservoir {
  reservoirL: number | null;
  useLPerDay: number | null;
  filledAt: Date | null;
  filledL: number | null;
}

/** What is left in a container, by the litres it was filled with and the use a day. */
export interface Left {
  /** Litres; never below zero. */
  litres: number;
  /** Null where the use a day is not known, or nothing is used while it is off. */
  days: number | null;
}

/** Litres and days left, by what was noted; null where that or the use a day is not known. */
export function leftIn({ useLPerDay, filledAt, filledL }: Reservoir, now: Date): Left | null {
  if (useLPerDay === null || filledAt === null || filledL === null) return null;
  const used = (useLPerDay * (now.getTime() - filledAt.getTime())) / dayMs;
  const litres = Math.max(0, filledL - Math.max(0, used));
  return { litres, days: litres / useLPerDay };
}

/** What is left in the containers of dosers that have a plan, by the device's id; the area that reckons dosers answers. */
export type LeftInDosers = (
  reader: SqlReader,
  ids: readonly string[],
  now: Date,
) => Promise<ReadonlyMap<string, Left | null>>;

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
