import { mean, median } from 'd3-array';
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
/** What the salinity was is told by so many tests of so many days before it changed; own choice. */
const [fewestBefore, beforeDays] = [2, 30];

/**
 * The salinity, where the water thinned and took what is dissolved down by more than test error: as it stands since it changed, or as
 * its newest test reads that waits for its repeat. Against what it was here before, since water that was always thin thinned nothing.
 */
export function thinnedBy(facts: SystemFacts, now: Date): Thinned | null {
  const read = (facts.readings.get('salinity') ?? []).filter(
    ({ below, above, value }) => !below && !above && value > 0,
  );
  const relied = read.filter(({ trust }) => trust !== 'unconfirmed');
  const [newest] = read.slice(-1);
  if (newest === undefined || dayOf(now) - newest.day > knownDays) return null;
  const waits = newest.trust === 'unconfirmed';
  return (waits ? thinned([newest], relied, true) : null) ?? thinned(ofNow(relied), relied, false);
}

/** Water that thinned: its salinity now, and whether that waits for its repeat. */
export type Thinned = Pick<SalinityShare, 'salinity' | 'waits'>;

function thinned(
  lately: readonly ReadingFact[],
  relied: readonly ReadingFact[],
  waits: boolean,
): Thinned | null {
  const [first] = lately;
  if (first === undefined) return null;
  const before = relied.filter(({ day }) => day < first.day && first.day - day <= beforeDays);
  const salinity = mean(lately.map(({ value }) => value));
  const was = median(before.map(({ value }) => value));
  if (salinity === undefined || was === undefined || before.length < fewestBefore) return null;
  const u = Math.hypot(first.u, ...before.slice(-1).map((one) => one.u)) / salinity;
  return was / salinity - 1 > Math.max(slight, 2 * u) ? { salinity, waits } : null;
}
