import { sinceHabitsChanged } from '../../farm/events/habits.rules.ts';
import type { KitJudgement } from '../../science/control.ts';
import { type NitrateTrack, trackNitrate } from '../../science/filter/nitrate.ts';
import { settledNitrate } from '../../science/filter/nitrate-forecast.ts';
import type { NitrateState, NitrateStep } from '../../science/filter/nitrate-types.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { isBiased, removeBias } from '../kits/bias.rules.ts';
import { withoutDoubted } from '../record/doubted.rules.ts';
import type { ReadingFact } from '../record/types.ts';
import type { WaterRecord } from '../record/water-record.ts';
import { beyondTest } from './last-test.rules.ts';
import { nitrateHistory } from './nitrate-history.rules.ts';

/** Days ahead that a rise of nitrate is told; own choice: as far as its forecast goes. */
export const NITRATE_DAYS_AHEAD = 60;

/** What is known of the bias of kits, by kit. */
export type KitBiases = ReadonlyMap<string, Pick<KitJudgement, 'verdict' | 'bias' | 'sd'>>;

/** What is known of a system's nitrate: the one estimate that alerts, pages, letters and files draw. mg/L as NO3, days. */
export interface NitrateEstimate {
  state: NitrateState;
  /** Level to which production and the habit of changes lead, with its standard deviation; null where nothing is changed. */
  settles: { value: number; sd: number } | null;
  /** False where no water change is logged: what is made a day cannot be told from what goes. */
  knowsProduction: boolean;
  /** First and last reading used, and how many; days since 1970. */
  fromDay: number;
  toDay: number;
  readings: number;
  track: NitrateTrack;
}

/**
 * The moment for which an estimate is given: the start of the day (UTC), or the last entry where that is later. It stays
 * the same until something is entered or the day is over, so that what was worked out this morning and what is worked out
 * now are one figure.
 */
export function estimateDay(
  { changes, doses }: Pick<WaterRecord, 'changes' | 'doses'>,
  readings: readonly ReadingFact[],
  now: Date,
): number {
  const lastOf = (all: readonly { day: number }[]) => all.at(-1)?.day ?? Number.NEGATIVE_INFINITY;
  return Math.max(Math.floor(dayOf(now)), lastOf(readings), lastOf(changes), lastOf(doses));
}

/**
 * The readings that count: since the last event that changed the habits of the water, without what probes showed that had
 * no vote, and without the bias of kits that are known to read wrong. Those that nothing has confirmed yet are among them.
 */
export function learntReadings(
  record: Pick<WaterRecord, 'readings' | 'events' | 'doubted'>,
  code: string,
  biases: KitBiases,
): readonly ReadingFact[] {
  const counted = withoutDoubted(code, record.readings.get(code) ?? [], record.doubted);
  const learnt = sinceHabitsChanged(record.events, counted);
  if (![...biases.values()].some(isBiased)) return learnt;
  return learnt.map((reading) => {
    const { value, u: uncertainty, below } = reading;
    const corrected = removeBias({ value, uncertainty, below }, biases.get(reading.kitId ?? ''));
    return corrected === null ? reading : { ...reading, value: corrected.value, u: corrected.uncertainty };
  });
}

/** When the log of changes begins: with the first reading, or a week before the first change. */
export const habitStart = (
  { changes }: Pick<WaterRecord, 'changes'>,
  readings: readonly ReadingFact[],
): number => Math.min(readings[0]?.day ?? Number.POSITIVE_INFINITY, (changes[0]?.day ?? 0) - 7);

/** The estimate from these readings; null without any. */
export function estimateNitrate(
  record: Pick<WaterRecord, 'kept' | 'changes' | 'doses'>,
  readings: readonly ReadingFact[],
  now: Date,
): NitrateEstimate | null {
  const [first, last] = [readings[0], readings.at(-1)];
  if (first === undefined || last === undefined) return null;
  const track = trackNitrate(nitrateHistory(record, readings), estimateDay(record, readings, now));
  if (track.now === null) return null;
  return {
    state: fromLastTest(track.now, track.history.at(-1), record.changes),
    settles: settledNitrate(track.now),
    knowsProduction: record.changes.length > 0,
    fromDay: first.day,
    toDay: last.day,
    readings: readings.length,
    track,
  };
}

/**
 * The state with its level no further off the last test than that test's error, what was changed since counted: two tests
 * that agree are where the water stands, whatever the months before said.
 */
function fromLastTest(
  state: NitrateState,
  last: NitrateStep | undefined,
  changes: WaterRecord['changes'],
): NitrateState {
  if (last === undefined || last.reading.bound !== undefined) return state;
  const { value, relativeSd, step = 0, confirmed = false } = last.reading;
  const u = Math.hypot(relativeSd * value, step / Math.sqrt(12));
  const left = changes
    .filter(({ day }) => day >= last.day && day <= state.day)
    .reduce((part, { fraction }) => part * (1 - fraction), 1);
  const off = left * beyondTest(last.level, { value, u, confirmed });
  if (off === 0) return state;
  return {
    ...state,
    level: Math.max(0, state.level - off),
    levelSd: Math.max(state.levelSd, Math.abs(off)),
  };
}

/** The estimate of a system's nitrate from all that is written down of it; what nothing has confirmed yet does not count. */
export function nitrateEstimate(record: WaterRecord, biases: KitBiases, now: Date): NitrateEstimate | null {
  const readings = learntReadings(record, 'nitrate', biases);
  return estimateNitrate(
    record,
    readings.filter(({ trust }) => trust !== 'unconfirmed'),
    now,
  );
}
