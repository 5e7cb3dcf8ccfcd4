import { advised, hold, measure } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { sayBand } from '../../../water/quantities/quantities.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { amount, nameOf, quantityNamed } from '../shared/words.ts';

/** A band this many times off the usual range is of another unit or a slip; own choice: between units lie 2 and more. */
const farOff = 2;

/**
 * The question about a band that no such water can keep: of another unit, a slip of the decimal point, or with its ends
 * changed over. Nothing is judged against it. Null where the band can be.
 */
export function bandDoubt(facts: SystemFacts, code: string): Finding | null {
  const kept = facts.kept.get(code);
  if (kept === undefined || !cannotBe(facts, code)) return null;
  const quantity = quantityNamed(facts, code);
  const name = nameOf(facts, code);
  const band = sayBand(quantity, kept.bandLow, kept.bandHigh) ?? '';
  const usual = sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh) ?? '';
  return {
    ...plainFinding,
    rule: 'out-of-band',
    subject: { type: 'system', id: facts.systemId },
    facet: code,
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}/targets`,
    status: 'fires',
    severity: 'watch',
    score: 1,
    title: `${facts.name}: is its band of ${name} typed right?`,
    numbers: `${band} is kept, ${usual} is usual`,
    number: amount(quantity, 'Kept', kept.bandHigh ?? kept.bandLow ?? 0),
    limit: { ...amount(quantity, 'Usual, at most', quantity.plausibleHigh), source: 'the care library' },
    why: `Until it is put right, ${name} of this system is judged against nothing.`,
    ...advised(
      measure(
        `Open the target bands of ${facts.name} and type the band in the unit given there. Change nothing in the water for this.`,
        hold('level', code),
      ),
    ),
    question:
      code === 'salinity'
        ? 'Is it a specific gravity? Then which base: 25/25, 20/20, 60/60 °F?'
        : 'Is it in another unit, or is a decimal point or a digit wrong?',
  };
}

function cannotBe(facts: SystemFacts, code: string): boolean {
  const { bandLow, bandHigh } = facts.kept.get(code) ?? { bandLow: null, bandHigh: null };
  if (bandLow !== null && bandHigh !== null && bandLow > bandHigh) return true;
  const { plausibleLow, plausibleHigh } = quantityNamed(facts, code);
  const tooLow = bandHigh !== null && plausibleLow > 0 && bandHigh < plausibleLow / farOff;
  const tooHigh = bandLow !== null && bandLow > plausibleHigh * farOff;
  return tooLow || tooHigh;
}
