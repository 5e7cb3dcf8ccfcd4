import { dayOf } from '../../science/numeric/time.ts';
import { type ProbeTrace, probeDoubt } from '../../water/trust/probe-doubt.rules.ts';
import type { ProbeVote, QuantityFact, ReadingFact, SystemFacts, TemperatureFact } from './types.ts';

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
 * The readings without the values of probes that have no vote, where tests by hand say what the water is instead. Without
 * any, the last that a doubted probe shows is still more than nothing.
 */
export function readingsWithVote(readings: Readings, votes: readonly ProbeVote[]): Readings {
  const doubted = votes.filter(({ trace, doubt }) => {
    const since = doubt?.sinceDay ?? Infinity;
    return handTests(readings.get(trace.code)).some(({ day }) => day >= since);
  });
  if (doubted.length === 0) return readings;
  const counts = (code: string, { probe, methodId, kitId, day }: ReadingFact) =>
    !probe ||
    !doubted.some(
      ({ trace, doubt }) =>
        trace.code === code &&
        trace.methodId === methodId &&
        trace.kitId === kitId &&
        day >= (doubt?.sinceDay ?? Infinity),
    );
  const codes = new Set(doubted.map(({ trace }) => trace.code));
  return new Map(
    [...readings].map(([code, all]) => [
      code,
      codes.has(code) ? all.filter((one) => counts(code, one)) : all,
    ]),
  );
}

/** The mean temperatures of days without what probes showed that had no vote by the end of that day. */
export function temperaturesWithVote(
  temperatures: readonly TemperatureFact[],
  votes: readonly ProbeVote[],
): readonly TemperatureFact[] {
  const doubted = votes.filter(({ trace, doubt }) => trace.code === 'temperature' && doubt !== null);
  if (doubted.length === 0) return temperatures;
  return temperatures.flatMap((fact) => {
    const { day, sources } = fact;
    const own = sources?.filter(
      ({ methodId, kitId }) =>
        !doubted.some(
          ({ trace, doubt }) =>
            trace.methodId === methodId && trace.kitId === kitId && day + 1 > (doubt?.sinceDay ?? Infinity),
        ),
    );
    if (own === undefined || own.length === sources?.length) return [fact];
    const readings = own.reduce((sum, one) => sum + one.readings, 0);
    const mean = own.reduce((sum, one) => sum + one.mean * one.readings, 0) / readings;
    return readings === 0 ? [] : [{ day, mean, sources: own }];
  });
}
