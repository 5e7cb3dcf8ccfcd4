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

/** Values of one probe closer than this are one look: 20 minutes. Own choice: a probe that is lifted out is mostly back by then. */
const oneLook = 20 / 1440;

/**
 * The newest values that bear each other out, oldest first: back to one by another thermometer or person, or by the same probe at
 * least 20 minutes before. A probe that reports each minute says the same thing twice within one slip. Empty where there is no such value.
 */
export function sustainedRun<T extends ShownValue>(values: readonly T[]): T[] {
  const last = values.at(-1);
  if (last === undefined) return [];
  const bearsOut = ({ day, evidence }: T) =>
    evidence.kind !== 'probe' || evidence.id !== last.evidence.id || last.day - day >= oneLook - 1e-6;
  const from = values.slice(0, -1).findLastIndex(bearsOut);
  return from < 0 ? [] : values.slice(from);
}
