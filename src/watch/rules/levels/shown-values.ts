import type { Evidence } from '../../../alerts/finding.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';

/** What somebody read or a probe sent, with where it comes from. */
export interface ShownValue {
  day: number;
  value: number;
  evidence: Pick<Evidence, 'kind' | 'id'>;
}

/** What people tested or read off, and what probes sent; of probes those that have a vote; oldest first. */
export function valuesOf(facts: SystemFacts, code: string): ShownValue[] {
  const votes = facts.probeVotes.filter(({ trace }) => trace.code === code);
  const isLeftOut = (one: ReadingFact) =>
    votes.some(
      ({ trace, doubt }) =>
        trace.methodId === one.methodId &&
        (trace.selfReporting || (doubt !== null && trace.kitId === one.kitId)),
    );
  const entered = (facts.readings.get(code) ?? [])
    .filter((one) => !one.below && !one.above && !isLeftOut(one))
    .map(({ day, value, id }): ShownValue => ({ day, value, evidence: { kind: 'reading', id } }));
  const sent = votes
    .filter(({ trace, doubt }) => trace.selfReporting && doubt === null)
    .flatMap(({ trace }) =>
      trace.samples.map(
        ({ day, value }): ShownValue => ({
          day,
          value,
          evidence: { kind: 'probe', id: trace.kitId ?? trace.methodId },
        }),
      ),
    );
  return [...entered, ...sent].sort((a, b) => a.day - b.day);
}
