import { dayOf } from '../../../science/numeric/time.ts';
import { momentOfDay, type ProbeVote, type ReadingFact, type SystemFacts } from '../../facts/types.ts';
import { hasBearableLevels, safeLevels } from './danger.ts';

/** Values of a probe are of now for an hour, and two of them lie no further apart; days. Own choice. */
const [fresh, together] = [1 / 24, 1.25 / 24];

/** What a probe that has a vote shows now, two values running, where both are beyond the safe range. */
export interface ProbeNow {
  kitId: string;
  readings: readonly ReadingFact[];
}

/**
 * The last two values of a probe that reports by itself, where both lie beyond the safe range on one side: the middle of
 * its day, by which levels are followed, would show that half a day later. Null where none does.
 */
export function probeBeyond(facts: SystemFacts, code: string, now: Date): ProbeNow | null {
  if (!hasBearableLevels(code)) return null;
  const { low, high } = besideBand(safeLevels(code), facts.kept.get(code));
  for (const { trace, doubt } of facts.probeVotes) {
    if (trace.code !== code || !trace.selfReporting || doubt !== null || trace.kitId === null) continue;
    const two = trace.samples.slice(-2);
    const [before, last] = two;
    if (before === undefined || last === undefined) continue;
    if (dayOf(now) - last.day > fresh || last.day - before.day > together) continue;
    const beyond = two.every(({ value }) => value < low) || two.every(({ value }) => value > high);
    if (beyond) return { kitId: trace.kitId, readings: two.map((one) => readingOf(facts, trace, one)) };
  }
  return null;
}

/** A speed is told over so many hours; what is usual is learnt from the values before the last half day. Days, own choice. */
const [leastSpan, mostSpan, leftOut] = [1 / 24, 3 / 24, 0.5];
/** So many values before say what is usual; own choice. */
const fewest = 24;
/** Standard uncertainties beyond all that was usual; the usual limit of a control chart. */
const clearly = 3;
/** What sinks has a rule of its own. */
const sinksElsewhere: readonly string[] = ['temperature', 'ph', 'oxygen'];

/**
 * The last values of a probe that reports by itself where they leave, two running, all that it showed in the week and go on
 * that way: a heater that sticks on is told before the water is too warm. Null where none does.
 */
export function probeRunning(facts: SystemFacts, code: string, now: Date): ProbeNow | null {
  if (!hasBearableLevels(code)) return null;
  for (const { trace, doubt } of facts.probeVotes) {
    if (trace.code !== code || !trace.selfReporting || doubt !== null || trace.kitId === null) continue;
    const [before, last] = trace.samples.slice(-2);
    if (before === undefined || last === undefined) continue;
    if (dayOf(now) - last.day > fresh || last.day - before.day > together) continue;
    const from = trace.samples.findLast(
      ({ day }) => last.day - day >= leastSpan && last.day - day <= mostSpan,
    );
    const usual = trace.samples.filter(({ day }) => day < last.day - leftOut).map(({ value }) => value);
    if (from === undefined || usual.length < fewest) continue;
    const off = clearly * trace.u;
    const rises = last.value > before.value && before.value > Math.max(...usual) + off;
    const sinks =
      last.value < before.value && before.value < Math.min(...usual) - off && !sinksElsewhere.includes(code);
    if (rises || sinks)
      return {
        kitId: trace.kitId,
        readings: [from, ...(from.day === before.day ? [] : [before]), last].map((one) =>
          readingOf(facts, trace, one),
        ),
      };
  }
  return null;
}

/** What a band allows is not told by the hour. */
const besideBand = (
  { low, high }: { low: number; high: number },
  kept: { bandLow: number | null; bandHigh: number | null } | undefined,
) => ({ low: Math.min(low, kept?.bandLow ?? low), high: Math.max(high, kept?.bandHigh ?? high) });

const readingOf = (
  { systemId }: SystemFacts,
  { methodId, kitId, u }: ProbeVote['trace'],
  { day, value }: ProbeVote['trace']['samples'][number],
): ReadingFact => ({
  id: `${kitId} ${day}`,
  systemId,
  day,
  at: momentOfDay(day).toISOString(),
  value,
  below: false,
  u,
  step: null,
  trust: 'confirmed',
  methodId,
  probe: true,
  kitId,
  hand: '',
});

/** The facts with what the probe shows now among the readings, the newest of them. */
export function factsNow(facts: SystemFacts, code: string, { readings }: ProbeNow): SystemFacts {
  const [first] = readings;
  const before = (facts.readings.get(code) ?? []).filter(({ day }) => day < (first?.day ?? Infinity));
  return { ...facts, readings: new Map([...facts.readings, [code, [...before, ...readings]]]) };
}
