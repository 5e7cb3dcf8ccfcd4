import type { KitFact, ReadingFact, SystemFacts } from '../facts/types.ts';
import type { Finding } from '../finding/finding.ts';
import { withoutKitBias } from './kit-biased.ts';
import { relyingOnConfirmed } from './unconfirmed.ts';

/**
 * Judges a quantity's readings with the bias of suspected kits taken out, relying on confirmed and plain ones. What only
 * an unconfirmed reading says asks for another test; what only the readings as they came say is the kit's.
 */
export function judgeReadings(
  facts: SystemFacts,
  code: string,
  judge: (readings: readonly ReadingFact[]) => Finding | null,
): Finding | null {
  const all = withoutOldDoubts(facts.readings.get(code) ?? []);
  const { readings, kits } = withoutKitBias(facts, code, all);
  const unconfirmed = all.some(({ trust }) => trust === 'unconfirmed');
  const judged = (of: readonly ReadingFact[]) =>
    relyingOnConfirmed(
      (withUnconfirmed) => judge(withUnconfirmed ? of : of.filter(({ trust }) => trust !== 'unconfirmed')),
      unconfirmed,
    );
  return judged(readings) ?? (kits.length > 0 ? explainedByKit(judged(all), kits) : null);
}

/** A reading that nobody settled within this many days no longer says anything. */
const doubtDays = 7;

function withoutOldDoubts(readings: readonly ReadingFact[]): readonly ReadingFact[] {
  const from = (readings.at(-1)?.day ?? 0) - doubtDays;
  return readings.filter(({ trust, day }) => trust !== 'unconfirmed' || day >= from);
}

/** It opens nothing, and an open alert goes to the kit's. */
function explainedByKit(finding: Finding | null, kits: readonly KitFact[]): Finding | null {
  if (finding === null) return null;
  const causes = kits.map(({ id }) => ({
    rule: 'kit-biased',
    subject: { type: 'kit' as const, id },
    facet: '',
  }));
  return { ...finding, standing: 'stays', causes };
}
