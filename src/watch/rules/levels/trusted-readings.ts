import type { Finding } from '../../../alerts/finding.ts';
import type { KitFact, ReadingFact, SystemFacts } from '../../facts/types.ts';
import { withoutKitBias } from './kit-bias.ts';

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
  return { ...finding, status: 'stays', causes };
}

/**
 * Judges twice: on readings that are relied on, and on all. What only an unconfirmed reading says asks for no more
 * than another test.
 */
export function relyingOnConfirmed(
  judge: (withUnconfirmed: boolean) => Finding | null,
  hasUnconfirmed: boolean,
): Finding | null {
  const relied = judge(false);
  if (!hasUnconfirmed || relied?.status === 'fires') return relied;
  const all = judge(true);
  if (all?.status !== 'fires') return relied;
  return {
    ...all,
    severity: 'watch',
    title: `${all.title}, if the last reading holds`,
    firstStep: 'Test again, with another kit if there is one. Change nothing on one unconfirmed reading.',
  };
}
