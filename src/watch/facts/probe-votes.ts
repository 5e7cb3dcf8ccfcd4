import { dayOf } from '../../science/numeric/time.ts';
import { withoutDoubted } from '../../water/record/doubted.rules.ts';
import { type ProbeTrace, probeDoubt } from '../../water/trust/probe-doubt.rules.ts';
import type {
  DoubtedSource,
  ProbeVote,
  QuantityFact,
  ReadingFact,
  SystemFacts,
  TemperatureFact,
} from './types.ts';

type Readings = SystemFacts['readings'];

/** Which probes of one system have a vote at a time, and why the others have none. */
export function probeVotes(
  traces: readonly ProbeTrace[],
  readings: Readings,
  quantities: ReadonlyMap<string, QuantityFact>,
  now: Date,
): ProbeVote[] {
  return traces.flatMap((trace) => {
    const quantity = quantities.get(trace.code);
    if (quantity === undefined) return [];
    return [{ trace, doubt: probeDoubt(trace, handTests(readings.get(trace.code)), quantity, dayOf(now)) }];
  });
}

/** The tests that were not made with a probe and are no bounds. */
export const handTests = (readings: readonly ReadingFact[] = []): ReadingFact[] =>
  readings.filter(({ probe, below, above }) => !probe && !below && !above);

/**
 * The probes that have no vote: by what they show now, and those that were found without one before they fell silent.
 *
 * @param kept as they were judged last
 */
export function doubtedSources(
  votes: readonly ProbeVote[],
  kept: readonly DoubtedSource[],
): readonly DoubtedSource[] {
  const now = votes.flatMap(({ trace: { code, methodId, kitId }, doubt }) =>
    doubt === null ? [] : [{ code, methodId, kitId, sinceDay: doubt.sinceDay }],
  );
  const judged = (one: DoubtedSource) =>
    votes.some(
      ({ trace }) => trace.code === one.code && trace.methodId === one.methodId && trace.kitId === one.kitId,
    );
  return [...now, ...kept.filter((one) => !judged(one))];
}

/**
 * The readings without the values of probes that have no vote, where tests by hand say what the water is instead. Without
 * any, the last that a doubted probe shows is still more than nothing.
 */
export function readingsWithVote(readings: Readings, all: readonly DoubtedSource[]): Readings {
  const doubted = all.filter(({ code, sinceDay }) =>
    handTests(readings.get(code)).some(({ day }) => day >= sinceDay),
  );
  if (doubted.length === 0) return readings;
  return new Map([...readings].map(([code, list]) => [code, withoutDoubted(code, list, doubted)]));
}

/** The mean temperatures of days without what probes showed that had no vote by the end of that day. */
export function temperaturesWithVote(
  temperatures: readonly TemperatureFact[],
  all: readonly DoubtedSource[],
): readonly TemperatureFact[] {
  const doubted = all.filter(({ code }) => code === 'temperature');
  if (doubted.length === 0) return temperatures;
  return temperatures.flatMap((fact) => {
    const { day, sources } = fact;
    const own = sources?.filter(
      ({ methodId, kitId }) =>
        !doubted.some((one) => one.methodId === methodId && one.kitId === kitId && day + 1 > one.sinceDay),
    );
    if (own === undefined || own.length === sources?.length) return [fact];
    const readings = own.reduce((sum, one) => sum + one.readings, 0);
    const mean = own.reduce((sum, one) => sum + one.mean * one.readings, 0) / readings;
    return readings === 0 ? [] : [{ day, mean, sources: own }];
  });
}
