import { afterWaterChange } from '../../science/dilution.ts';
import { doseRelativeSd } from './calcium-ratio.rules.ts';
import {
  around,
  type DemandLog,
  type DemandRate,
  type DemandReading,
  middle,
  rateOf,
  within,
} from './rate.rules.ts';

/** What one quantity's use or production in a system is worked out from. */
export interface DemandPart {
  readings: readonly DemandReading[];
  log: DemandLog;
  /** False where nobody said what the make-up water holds. */
  makeUpStated: boolean;
  /** Kits known to read wrong, whose readings stand here without the bias. */
  correctedKits: readonly string[];
  /** Doses of which nobody knows what they raise. */
  unknownDoses: readonly { day: number; substance: string }[];
}

/** Days of readings that a rate is worked out from: what moves slowly, or is tested coarsely, takes longer. */
export const windowDays: Readonly<Record<string, number>> = {
  alkalinity: 14,
  calcium: 28,
  magnesium: 56,
  nitrate: 28,
  phosphate: 28,
};

/** The rate of late, or why there is none. */
export type RateNow = { rate: DemandRate; days: number } | { rate: null; why: string };

/** The rate over the usual window, or over twice or four times that where there is too little in it. */
export function rateNow(part: DemandPart, code: string, nowDay: number): RateNow {
  const usual = windowDays[code] ?? 28;
  for (const days of [usual, 2 * usual, 4 * usual]) {
    const from = nowDay - days;
    const rate = rateOf(
      part.readings.filter(within(from, nowDay)),
      around(part.log, from, nowDay),
      doseRelativeSd,
    );
    if (rate !== null && rate.toDay - rate.fromDay >= days / 7) return { rate, days };
  }
  return { rate: null, why: whyNot(part, nowDay - 4 * usual, nowDay) };
}

function whyNot({ readings }: DemandPart, from: number, to: number): string {
  const inside = readings.filter(within(from, to));
  if (readings.length === 0) return 'it was never read here';
  if (inside.length === 0)
    return `the last reading is ${Math.round(to - (readings.at(-1)?.day ?? to))} days old`;
  if (inside.every(({ below }) => below)) return 'every reading is below what the kit detects';
  const relied = inside.filter(
    ({ below, trust, suspect }) => !below && !suspect && (trust === 'plain' || trust === 'confirmed'),
  );
  if (relied.length < 2)
    return `${relied.length === 0 ? 'none' : 'only one'} of ${inside.length} readings in ${Math.round(to - from)} days can be relied on`;
  return 'the readings stand too close together, or each is by another kit';
}

/** What water changes bring of a quantity against what is used; canonical units. */
export interface Supply {
  /** Used a day, with its interval; below 0 where more is made than used. */
  use: number;
  useLow: number;
  useHigh: number;
  /** What the changes of late bring a day: part changed a day times (fresh - level); null where the fresh water is not known. */
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

/** Use, return and the gap between them: the arithmetic new = old (1 - f) + fresh f, over the days of the rate. */
export function supplyOf(rate: DemandRate, makeUp: number | null): Supply {
  const [use, useLow, useHigh] = [-rate.perDay, -rate.high, -rate.low];
  const returned = makeUp === null ? null : rate.changedPerDay * (makeUp - rate.level);
  const by = returned ?? 0;
  const verdict = useLow <= 0 ? 'no use' : useLow - by <= 0 ? 'changes keep up' : 'needs dosing';
  return {
    use,
    useLow,
    useHigh,
    returned,
    gap: use - by,
    gapLow: useLow - by,
    gapHigh: useHigh - by,
    dosed: rate.dosedPerDay,
    changed: rate.changedPerDay,
    verdict,
  };
}

/** What one water change of the usual size does to a level at once. */
export interface MixStep {
  fraction: number;
  change: number;
  /** The largest change that stays within the cap. */
  largest: number;
}

/** The step, where it is larger than may happen in a day; null where it is not, or nobody knows the fresh water. */
export function mixStep(
  level: number,
  makeUp: number | null,
  fraction: number | null,
  dailyCap: number,
): MixStep | null {
  if (makeUp === null || fraction === null) return null;
  const change = afterWaterChange(level, makeUp, fraction) - level;
  return Math.abs(change) <= dailyCap * (1 + 1e-9)
    ? null
    : { fraction, change, largest: dailyCap / Math.abs(makeUp - level) };
}

/** The usual size of a water change of late; null without any. */
export const usualChange = ({ changes }: DemandLog, nowDay: number): number | null =>
  middle(changes.filter(within(nowDay - 90, nowDay)).map(({ fraction }) => fraction));
