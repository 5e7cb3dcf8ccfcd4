import { dayOf } from '../../../science/numeric/time.ts';
import type { SystemFacts } from '../../facts/types.ts';

/** How salinity moves what is dissolved in proportion to it. */
export interface SalinityShare {
  salinity: number;
  /** What the level would be multiplied by at the usual salinity, and its uncertainty. */
  factor: number;
  u: number;
}

/** What rises and falls with the salt of the water. */
const proportional = ['alkalinity', 'calcium', 'magnesium', 'potassium', 'strontium', 'boron'];
/** A salinity read longer ago says nothing of today's calcium; own choice. */
const knownDays = 7;
const oceanic = 35;

/**
 * Calcium, magnesium and alkalinity fall in proportion to salinity when only water is added. Null where nothing is known,
 * or for what does not follow the salt. The usual salinity is 35, or the nearest that the system's own band allows.
 */
export function salinityShare(facts: SystemFacts, code: string, now: Date): SalinityShare | null {
  if (!proportional.includes(code)) return null;
  const today = dayOf(now);
  const recent = (facts.readings.get('salinity') ?? []).filter(
    ({ day, trust, below, above, value }) =>
      trust !== 'unconfirmed' && !below && !above && value > 0 && today - day <= knownDays,
  );
  if (recent.length === 0) return null;
  const salinity = recent.reduce((sum, { value }) => sum + value, 0) / recent.length;
  const u = Math.max(...recent.map((reading) => reading.u)) / Math.sqrt(recent.length);
  const kept = facts.kept.get('salinity');
  const usual = Math.min(kept?.bandHigh ?? oceanic, Math.max(kept?.bandLow ?? oceanic, oceanic));
  return { salinity, factor: usual / salinity, u: (usual * u) / salinity ** 2 };
}
