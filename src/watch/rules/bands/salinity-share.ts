import { dayOf } from '../../../science/numeric/time.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';

/** How salinity moves what is dissolved in proportion to it. */
export interface SalinityShare {
  salinity: number;
  /** What the level would be multiplied by at the usual salinity, and its uncertainty. */
  factor: number;
  u: number;
  /** The salinity was read once, surprised, and waits for its repeat. */
  waits: boolean;
}

/** What rises and falls with the salt of the water. */
const proportional = ['alkalinity', 'calcium', 'magnesium', 'potassium', 'strontium', 'boron'];
/** A salinity read longer ago says nothing of today's calcium; own choice. */
const knownDays = 7;
const oceanic = 35;

/** Standard uncertainties of both tests by which two lie clearly apart. */
const clearly = 3;

/** The tests since the salinity last stood clearly elsewhere than the newest: what was read before a sudden change says nothing of now. */
function ofNow(relied: readonly ReadingFact[]): readonly ReadingFact[] {
  const newest = relied.at(-1);
  if (newest === undefined) return relied;
  const isApart = (one: ReadingFact) =>
    Math.abs(one.value - newest.value) > clearly * Math.hypot(one.u, newest.u);
  return relied.slice(relied.findLastIndex(isApart) + 1);
}

/**
 * Calcium, magnesium and alkalinity fall in proportion to salinity when only water is added. Null where nothing is known,
 * or for what does not follow the salt. The usual salinity is 35, or the nearest that the system's own band allows.
 * `waiting`: by the newest test alone, where that waits for its repeat; null where none does.
 */
export function salinityShare(
  facts: SystemFacts,
  code: string,
  now: Date,
  waiting = false,
): SalinityShare | null {
  if (!proportional.includes(code)) return null;
  const today = dayOf(now);
  const known = (facts.readings.get('salinity') ?? []).filter(
    ({ day, below, above, value }) => !below && !above && value > 0 && today - day <= knownDays,
  );
  const recent = waiting ? known.slice(-1) : ofNow(known.filter(({ trust }) => trust !== 'unconfirmed'));
  if (recent.length === 0 || (waiting && recent[0]?.trust !== 'unconfirmed')) return null;
  const salinity = recent.reduce((sum, { value }) => sum + value, 0) / recent.length;
  const u = Math.max(...recent.map((reading) => reading.u)) / Math.sqrt(recent.length);
  const kept = facts.kept.get('salinity');
  const usual = Math.min(kept?.bandHigh ?? oceanic, Math.max(kept?.bandLow ?? oceanic, oceanic));
  return { salinity, factor: usual / salinity, u: (usual * u) / salinity ** 2, waits: waiting };
}

/** A factor nearer to 1 than this moves no level that anybody would dose for; own choice. */
const slight = 0.03;

/** The salinity, where water that thinned holds a level down by more than test error: as it stands, or as its newest test reads that waits for its repeat. */
export function thinnedBy(facts: SystemFacts, code: string, now: Date): SalinityShare | null {
  const shares = [salinityShare(facts, code, now), salinityShare(facts, code, now, true)];
  return shares.find((one) => one !== null && one.factor - 1 > Math.max(slight, 2 * one.u)) ?? null;
}
