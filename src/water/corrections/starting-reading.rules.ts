import { daysBetween } from '../../science/numeric/time.ts';
import { agree, followsFrom } from '../trust/agreement.rules.ts';
import type { StoredReading } from '../trust/measured.ts';

/** A reading that a correction may rest on, or not yet. */
export interface Candidate extends StoredReading {
  trust: 'plain' | 'unconfirmed' | 'confirmed' | 'refuted';
}

/** How far the newest reading can be relied on for a change of the water. */
export type StartingReading =
  | { kind: 'none' }
  | { kind: 'unconfirmed' | 'single' | 'suspect' | 'old'; reading: Candidate }
  /** Confirmed: by its own trust, or by a second test (`by`) that agrees within their combined uncertainty. */
  | { kind: 'confirmed'; reading: Candidate; by: Candidate | null };

/** A second test confirms a plain one within so many days; own choice. */
const pairDays = 2;
/** A reading older than this says where the water was, not where it is; own choice. */
export const freshDays = 3;

const daysApart = (a: Date, b: Date) => Math.abs(daysBetween(a, b));

/**
 * What the newest standing reading is worth for a correction. A reading that surprised nobody was still made once: it
 * counts as confirmed only when another one agrees. A reading by a kit that is named or suspected of reading wrong
 * counts for nothing, whatever agrees with it by the same kit.
 *
 * @param readings of one quantity in one system; refuted and voided ones are not looked at
 * @param suspectKits ids of kits that the watch names or suspects
 */
export function startingReading(
  readings: readonly Candidate[],
  suspectKits: ReadonlySet<string>,
  now: Date,
): StartingReading {
  const standing = readings
    .filter((one) => one.trust !== 'refuted' && one.at <= now)
    .sort((a, b) => b.at.getTime() - a.at.getTime());
  const [newest, ...others] = standing;
  if (newest === undefined) return { kind: 'none' };
  if (newest.trust === 'unconfirmed') return { kind: 'unconfirmed', reading: newest };
  if (newest.kitId !== null && suspectKits.has(newest.kitId)) return { kind: 'suspect', reading: newest };
  if (daysApart(newest.at, now) > freshDays) return { kind: 'old', reading: newest };
  if (newest.trust === 'confirmed') return { kind: 'confirmed', reading: newest, by: null };
  const by = others.find(
    (one) =>
      daysApart(one.at, newest.at) <= pairDays &&
      (one.kitId === null || !suspectKits.has(one.kitId)) &&
      agree(one, newest) &&
      !followsFrom(one, newest),
  );
  return by === undefined ? { kind: 'single', reading: newest } : { kind: 'confirmed', reading: newest, by };
}
