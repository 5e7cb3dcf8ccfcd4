import type { EventKind } from '../../generated/prisma/enums.ts';
import { dayCount } from '../../platform/words/numbers.ts';
import { afterWaterChange } from '../../science/dilution.ts';
import { newestRun } from '../../science/trend.ts';
import { type DoserDoubt, sinceRighted } from './doser-doubt.rules.ts';
import {
  type DemandLog,
  type DemandRate,
  type DemandRecord,
  doseRelativeSd,
  isBetween,
  rateBetween,
} from './rate.rules.ts';
import { lowerMedian } from './usable-readings.rules.ts';

/** What one quantity's use or production in a system is worked out from. */
export interface DemandData extends DemandRecord {
  /** False where nobody said what the make-up water holds. */
  makeUpStated: boolean;
  /** Labels of the kits known to read wrong; their readings are given without the bias. */
  correctedKits: readonly string[];
  /** Days of the readings that a second test refuted; they are not among `readings`. */
  refuted?: readonly number[];
  /** Doses with no known effect. */
  unknownDoses: readonly { day: number; substance: string }[];
  /** From when on the readings are: the last event that changed the habits of the water; null where none did. */
  learntSince: { day: number; kind: EventKind } | null;
  /** A doser is on the books of the system, or a routine asks for doses. */
  hasDoser: boolean;
  /** A routine asks for water changes. */
  hasChangeRoutine?: boolean;
  /** Why the doses in the log may not all have gone in; null or left out where nothing speaks against them. */
  doser?: DoserDoubt | null;
  /** Day since when somebody says that nothing is dosed, and that no water is changed; null or left out where nobody does. */
  undosedSince?: number | null;
  unchangedSince?: number | null;
}

/** Days of readings that a rate is worked out from; own choice: longer for what changes slowly or is tested coarsely. */
export const windowDays: Readonly<Record<string, number>> = {
  alkalinity: 14,
  calcium: 28,
  magnesium: 56,
  nitrate: 28,
  phosphate: 28,
};

const defaultWindow = 28;

/** The present rate, or why there is none. */
export type RateNow = { rate: DemandRate; days: number } | { rate: null; why: string };

/** Nutrients come from feeding and leave with the water that is changed. */
const isFed = (code: string): boolean => code === 'nitrate' || code === 'phosphate';

/** Why production is not known where nothing was changed by the log. */
export const noChangeLogged = 'no water changes are recorded, so what is made a day is not known; log them';
const noChangeLoggedOfRoutine =
  'a routine plans water changes but none is recorded, so what is made a day is not known; log them';

/** The rate over the usual window, or over twice or four times that where there is too little in it. */
export function rateNow(part: DemandData, code: string, nowDay: number): RateNow {
  const known = isFed(code) ? sinceChangesAreKnown(part) : part;
  if (known === null)
    return { rate: null, why: part.hasChangeRoutine ? noChangeLoggedOfRoutine : noChangeLogged };
  const given = sinceRighted(known.readings, known.doser);
  const now = rateOf({ ...known, readings: given }, code, nowDay);
  return now.rate === null && given.length < known.readings.length ? { rate: null, why: notAllGiven } : now;
}

/** Why the use is not known once a doser was put right. */
const notAllGiven =
  'before the doser was put right not all doses of the log went in, and since then there are too few tests. Dose as before, and test at the same hour for two days or more';

/** The readings from when on it is known what was changed: all with a log, else since somebody says that nothing is; null without either. */
function sinceChangesAreKnown(part: DemandData): DemandData | null {
  if (part.log.changes.length > 0 || part.readings.length === 0) return part;
  const since = part.unchangedSince ?? null;
  return since === null ? null : { ...part, readings: part.readings.filter(({ day }) => day >= since) };
}

function rateOf(part: DemandData, code: string, nowDay: number): RateNow {
  const usual = windowDays[code] ?? defaultWindow;
  for (const days of [usual, 2 * usual, 4 * usual]) {
    const from = nowDay - days;
    const rate = rateSince(part, from, nowDay) ?? rateBetween(part, from, nowDay, doseRelativeSd);
    if (rate !== null && rate.toDay - rate.fromDay >= days / 7) return { rate, days };
  }
  return { rate: null, why: whyNot(part, nowDay - 4 * usual, nowDay) };
}

/** Where the tests changed their way within the days asked for, and go on by a line of their own since: the rate since then. */
function rateSince(part: DemandData, from: number, nowDay: number): DemandRate | null {
  const numbers = part.readings.filter(
    ({ below, trust, suspect }) => !below && !suspect && (trust === 'plain' || trust === 'confirmed'),
  );
  const instrument = numbers.at(-1)?.instrument;
  const own = numbers.filter((one) => one.instrument === instrument && isBetween(from, nowDay)(one));
  const run = newestRun(own);
  return run?.changed ? rateBetween(part, run.fromDay - aMoment, nowDay, doseRelativeSd) : null;
}

/** So that the first of a run is among its days. */
const aMoment = 1e-6;

function whyNot({ readings, learntSince, refuted = [] }: DemandData, from: number, to: number): string {
  const inside = readings.filter(isBetween(from, to));
  if (readings.length === 0 && refuted.length > 0) return 'no test of it counts, since each was refuted';
  if (readings.length === 0)
    return learntSince === null ? 'it was never read here' : 'it was not read since it is learned anew';
  if (inside.length === 0)
    return `the last reading is ${dayCount(Math.round(to - (readings.at(-1)?.day ?? to)))} old`;
  if (inside.every(({ below }) => below)) return 'every reading is below what the kit detects';
  const reliable = inside.filter(
    ({ below, trust, suspect }) => !below && !suspect && (trust === 'plain' || trust === 'confirmed'),
  );
  if (inside.length === 1) return `one reading in ${dayCount(Math.round(to - from))} does not show a rate`;
  if (reliable.length < 2)
    return `${reliable.length === 0 ? 'none' : 'only one'} of ${inside.length} readings in ${dayCount(Math.round(to - from))} can be relied on`;
  return 'the readings are too close together, or each is by another kit';
}

/** What is used of a quantity against what water changes bring; canonical units. */
export interface Supply {
  /** Used a day, with its interval; below 0 where more is made than used. */
  use: number;
  useLow: number;
  useHigh: number;
  /** What recent changes bring a day: part changed a day times (make-up - level); null where the make-up water is not known. */
  returned: number | null;
  /** Used and not brought by changes, a day. */
  gap: number;
  gapLow: number;
  gapHigh: number;
  dosed: number;
  /** Part of the water changed a day. */
  changed: number;
  verdict: 'no use' | 'changes keep up' | 'needs dosing';
}

/** Use, return and the gap between them over the days of the rate, by new = old (1 - f) + fresh f for each change. */
export function supplyOf(rate: DemandRate, makeUp: number | null): Supply {
  const [use, useLow, useHigh] = [-rate.perDay, -rate.high, -rate.low];
  const returned = makeUp === null ? null : rate.changedPerDay * (makeUp - rate.level);
  const brought = returned ?? 0;
  const verdict = useLow <= 0 ? 'no use' : useLow - brought <= 0 ? 'changes keep up' : 'needs dosing';
  return {
    use,
    useLow,
    useHigh,
    returned,
    gap: use - brought,
    gapLow: useLow - brought,
    gapHigh: useHigh - brought,
    dosed: rate.dosedPerDay,
    changed: rate.changedPerDay,
    verdict,
  };
}

/** What one water change of the usual size does to a level at once, where that is more than may happen in a day. */
export interface LevelJump {
  fraction: number;
  change: number;
  /** The largest change that keeps within the cap, as a part of the water. */
  largest: number;
}

/** How far one change moves a level; null where that is within the daily cap, or the make-up water is not known. */
export function levelJumpOf(
  level: number,
  makeUp: number | null,
  fraction: number | null,
  dailyCap: number,
): LevelJump | null {
  if (makeUp === null || fraction === null) return null;
  const change = afterWaterChange(level, makeUp, fraction) - level;
  return Math.abs(change) <= dailyCap * (1 + 1e-9)
    ? null
    : { fraction, change, largest: dailyCap / Math.abs(makeUp - level) };
}

/** Days of water changes that show what is usual; own choice. */
export const recentDays = 90;

/** The usual size of a water change in the last 90 days; null without any. */
export const usualChange = ({ changes }: DemandLog, nowDay: number): number | null =>
  lowerMedian(changes.filter(isBetween(nowDay - recentDays, nowDay)).map(({ fraction }) => fraction));
