import { memoizeWith } from '../../platform/memoize.ts';
import { netRate } from '../../science/balance.ts';
import { CALCIUM_PER_ALKALINITY } from '../../science/calcification.ts';
import { limeWords } from '../../science/dosing.ts';
import { coverageFactor } from '../../science/statistics/student.ts';
import { type LeftOutCounts, usableReadings } from './usable-readings.rules.ts';

/** A reading as the balance takes it; canonical unit, `day` the moment in days since 1970. */
export interface DemandReading {
  day: number;
  value: number;
  /** Standard uncertainty. */
  u: number;
  below: boolean;
  trust: 'plain' | 'unconfirmed' | 'confirmed' | 'refuted';
  /** The kit, method or laboratory: a rate is taken within one of them, never across two. */
  instrument: string;
  /** Its kit is suspected of a bias of unknown size. */
  suspect: boolean;
}

/** What was done to the water. */
export interface DemandLog {
  /** `makeUp`: level in the water of this change, where it was not the usual one; `once`: a step of a correction. */
  changes: readonly { day: number; fraction: number; makeUp?: number | null; once?: boolean }[];
  /** Doses as the rise of the level that each makes. */
  doses: readonly { day: number; rise: number }[];
  /** Level in the make-up water; null where nobody stated it: it is then taken as the system's own level. */
  makeUp: number | null;
}

/** One quantity's readings and what was done to the water. */
export interface DemandRecord {
  readings: readonly DemandReading[];
  log: DemandLog;
  /** Part of the stock that left on a day, sold or lost. */
  left?: readonly { day: number; share: number }[];
  /** Between these days a look into the container says what went in. */
  looked?: readonly { fromDay: number; toDay: number }[];
}

/** The net change of a level a day with changes and doses taken out; use is its negative. */
export interface DemandRate {
  perDay: number;
  sd: number;
  /** Holds the true rate in 95 of 100 such cases. */
  low: number;
  high: number;
  /** Days since 1970 of the first and last reading used. */
  fromDay: number;
  toDay: number;
  readings: number;
  /** Mean of the readings. */
  level: number;
  /** Rise by logged doses a day, and part of the water changed a day, between first and last reading. */
  dosedPerDay: number;
  changedPerDay: number;
  /** Level at the last reading by the fit, with its uncertainty and its covariance with the rate. */
  last: { level: number; sd: number; cov: number };
  leftOut: LeftOutCounts;
}

/** Common practice: the strength and volume of a dose are known to a twentieth. */
export const doseRelativeSd = 0.05;
/** Readings of one instrument closer together than this, in days, give no rate; own choice. */
const shortestSpan = 0.25;

/**
 * The rate in the readings of a period, by the moments at which they were made. Left out are refuted, unconfirmed and
 * suspect readings, those below detection, those made before the water had mixed, and those in another phase of the
 * dosing. Null with fewer than two readings of one instrument a quarter of a day apart.
 *
 * @param relativeSd how well the strength of the doses and the volume are known; 0 to compare a system with itself
 */
export const rateOf = (
  readings: readonly DemandReading[],
  { changes, doses, makeUp }: DemandLog,
  relativeSd = 0,
): DemandRate | null => rememberedRate(readings, changes, doses, makeUp, relativeSd);

const rememberedRate = memoizeWith(
  ([first]) => first,
  (
    readings: readonly DemandReading[],
    changes: DemandLog['changes'],
    doses: DemandLog['doses'],
    makeUp: number | null,
    relativeSd: number,
  ) => computeRate(readings, { changes, doses, makeUp }, relativeSd),
);

function computeRate(
  readings: readonly DemandReading[],
  log: DemandLog,
  relativeSd: number,
): DemandRate | null {
  const { kept, leftOut } = usableReadings(readings, log);
  const [fromDay, toDay] = [kept[0]?.day ?? 0, kept.at(-1)?.day ?? 0];
  const level = kept.reduce((sum, { value }) => sum + value, 0) / Math.max(1, kept.length);
  const during = <T extends { day: number }>(all: readonly T[]) =>
    all.filter(({ day }) => day >= fromDay && day < toDay);
  const changes = during(log.changes);
  const doses = during(log.doses);
  const makeUp = log.makeUp ?? level;
  const events = {
    changes: changes.map((change) => ({ ...change, makeUp: change.makeUp ?? makeUp })),
    doses: mergedDoses(doses, [...kept, ...changes]),
    doseRelativeSd: relativeSd,
  };
  const byInstrument = [...Map.groupBy(kept, ({ instrument }) => instrument).values()].filter(spansTime);
  const fits = byInstrument.map((own) => withItsBias(netRate(own, events), own));
  if (fits.length === 0) return null;
  const used = byInstrument.flat().length;
  if (used < kept.length) leftOut.set('the only one by its kit', kept.length - used);
  const days = toDay - fromDay;
  return {
    ...weightedMean(fits),
    fromDay,
    toDay,
    readings: used,
    level,
    last: levelAtEnd(fits),
    dosedPerDay: doses.reduce((sum, { rise }) => sum + rise, 0) / days,
    changedPerDay:
      -changes.reduce((sum, { fraction }) => sum + Math.log1p(-Math.min(fraction, 0.999)), 0) / days,
    leftOut,
  };
}

const spansTime = (readings: readonly DemandReading[]) =>
  (readings.at(-1)?.day ?? 0) - (readings[0]?.day ?? 0) >= shortestSpan;

type Fit = ReturnType<typeof netRate>;

/** What a kit under suspicion may read wrong by, relative standard uncertainty: the bias that matters (`judgeKit`). */
const suspectSd = 0.1;

/** Of a kit under suspicion, level and rate are known no better than its bias. */
function withItsBias(fit: Fit, readings: readonly DemandReading[]): Fit {
  if (!readings.some(({ suspect }) => suspect)) return fit;
  const sd = Math.hypot(fit.sd, suspectSd * fit.perDay);
  const reach = coverageFactor(0.95, Infinity) * suspectSd * Math.abs(fit.perDay);
  return {
    ...fit,
    sd,
    low: fit.perDay - Math.hypot(fit.perDay - fit.low, reach),
    high: fit.perDay + Math.hypot(fit.high - fit.perDay, reach),
    levelSd: Math.hypot(fit.levelSd, suspectSd * fit.level),
  };
}

/** By the instrument with the smallest error. */
function levelAtEnd(fits: readonly Fit[]): DemandRate['last'] {
  const [best] = [...fits].sort((a, b) => a.levelSd - b.levelSd);
  return { level: best?.level ?? 0, sd: best?.levelSd ?? 0, cov: best?.cov ?? 0 };
}

/** The rates of several instruments over the same days, each weighted by the inverse of its variance. */
function weightedMean(fits: readonly Fit[]) {
  const [only] = fits;
  if (fits.length === 1 && only !== undefined)
    return { perDay: only.perDay, sd: only.sd, low: only.low, high: only.high };
  const weights = fits.map(({ sd }) => 1 / sd ** 2);
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const perDay = fits.reduce((sum, fit, i) => sum + (fit.perDay * (weights[i] ?? 0)) / total, 0);
  const sd = 1 / Math.sqrt(total);
  const dof = fits.reduce((sum, fit) => sum + fit.dof, 0);
  const factor = coverageFactor(0.95, dof > 0 ? dof : Infinity);
  return { perDay, sd, low: perDay - factor * sd, high: perDay + factor * sd };
}

/**
 * The doses between two readings or changes as one dose: the result is the same, and quicker to work out where a dosing
 * pump gives a hundred a day. `marks`: the readings and changes.
 */
function mergedDoses(
  doses: DemandLog['doses'],
  marks: readonly { day: number }[],
): { day: number; rise: number }[] {
  const ends = marks.map(({ day }) => day).sort((a, b) => a - b);
  const sums = new Map<number, number>();
  let next = 0;
  for (const { day, rise } of [...doses].sort((a, b) => a.day - b.day)) {
    while (next < ends.length && (ends[next] ?? 0) <= day) next += 1;
    // A reading or change at a dose's own moment comes before it.
    const before = next === 0 ? day : (ends[next - 1] ?? day);
    sums.set(before, (sums.get(before) ?? 0) + rise);
  }
  return [...sums].map(([day, rise]) => ({ day, rise }));
}

/** A point of the history: the rate in the days that end on this one. */
export interface WeeklyRate {
  day: number;
  rate: DemandRate | null;
}

/** The rate in the last `days`, once a week for the last `weeks` weeks, oldest first. */
export function weeklyRates(
  record: DemandRecord,
  { nowDay, days, weeks }: { nowDay: number; days: number; weeks: number },
): WeeklyRate[] {
  return Array.from({ length: weeks }, (_, i) => {
    const day = nowDay - 7 * (weeks - 1 - i);
    return { day, rate: rateBetween(record, day - days, day, doseRelativeSd) };
  });
}

/** The rate in the days from (not included) to, in days since 1970. `relativeSd` as for `rateOf`. */
export const rateBetween = (
  { readings, log }: DemandRecord,
  from: number,
  to: number,
  relativeSd = 0,
): DemandRate | null => rateOf(readings.filter(isBetween(from, to)), logBetween(log, from, to), relativeSd);

/** Whether a moment lies in the days from (not included) to. */
export const isBetween =
  (from: number, to: number) =>
  ({ day }: { day: number }): boolean =>
    day > from && day <= to;

/** The log of some days, and the doses of the week before them: they say in which phase the first reading was made. */
const logBetween = ({ changes, doses, makeUp }: DemandLog, from: number, to: number): DemandLog => ({
  changes: changes.filter(isBetween(from, to)),
  doses: doses.filter(isBetween(from - 7, to)),
  makeUp,
});

/** A dose as it is logged: for the first quantity that it raises. */
export interface LoggedDose {
  day: number;
  substance: string;
  quantityCode: string | null;
  rise: number | null;
}

/**
 * By how much the logged doses raise one quantity; limewater counts for calcium although it is logged for alkalinity: it brings
 * as much as calcification takes with it.
 */
export function risesOf(doses: readonly LoggedDose[], code: string): { day: number; rise: number }[] {
  return doses.flatMap(({ day, substance, quantityCode, rise }) => {
    if (rise === null) return [];
    if (quantityCode === code) return [{ day, rise }];
    const bringsCalcium = code === 'calcium' && quantityCode === 'alkalinity' && limeWords.test(substance);
    return bringsCalcium ? [{ day, rise: rise * CALCIUM_PER_ALKALINITY }] : [];
  });
}
