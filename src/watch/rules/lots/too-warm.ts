import { dayOf } from '../../../science/numeric/time.ts';
import { say } from '../../../water/quantities/quantities.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { trustedReadings } from '../levels/simultaneous.ts';
import { quantityNamed } from '../shared/words.ts';

/** Readings of the last days say how warm it is; warmest usual month where the system keeps no band (common practice). */
const [days, usual] = [3, 28.3];
/** Stress begins this far above the warmest usual month (satellite products of a government service). */
const beyond = 1;

/** What is said to a lot's paling where the water is too warm; null where it is not, or not known. */
export function tooWarm(facts: SystemFacts, now: Date): string | null {
  const last = trustedReadings(facts, 'temperature').at(-1);
  if (last === undefined || dayOf(now) - last.day > days) return null;
  const edge = facts.kept.get('temperature')?.bandHigh ?? usual;
  if (last.value < edge + beyond) return null;
  return `See to the heat first: ${say(quantityNamed(facts, 'temperature'), last.value)} was read, and heat pales corals in good light.`;
}
