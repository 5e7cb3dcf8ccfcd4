import { rememberedWith } from '../../platform/remembered.ts';
import { netRate } from '../../science/balance.ts';
import { CALCIUM_PER_ALKALINITY } from '../../science/calcification.ts';
import { coverageFactor } from '../../science/statistics/student.ts';

/** A reading as the balance takes it; canonical unit, `day` the moment in days since 1970. */
export interface DemandReading {
  day: number;
  value: number;
  /** Standard uncertainty. */
  u: number;
  below: boolean;
  trust: 'plain' | 'unconfirmed' | 'confirmed' | 'refuted';
  /** Kit or laboratory: a rate is taken within one of them, never across two. */
  hand: string;
  /** Its kit is a suspect whose bias nobody knows yet. */
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

/** Why readings were left out, in the order in which it is said. */
export const leftOutReasons = [
  'refuted',
  'unconfirmed',
  'by a kit under suspicion',
  'below detection',
  'within an hour after a dose or water change',
  'at another hour of the dosing',
  'the only one by its kit',
] as const;

type Reason = (typeof leftOutReasons)[number];
export type LeftOut = ReadonlyMap<Reason, number>;

/** The net change of a level a day with changes and doses taken out; use is its negative. */
export interface DemandRate {
  perDay: number;
  sd: number;
  /** Holds the true rate in 95 of 100 such cases. */
  low: number;
  high: number;
  /** Days since 1970 of the first and last reading it rests on. */
  fromDay: number;
  toDay: number;
  readings: number;
  /** Mean of the readings. */
  level: number;
  /** Rise by logged doses a day, and part of the water changed a day, between first and last reading. */
  dosedPerDay: number;
  changedPerDay: number;
  /** Level at the last reading as the fit has it, with its uncertainty and its covariance with the rate. */
  last: { level: number; sd: number; cov: number };
  leftOut: LeftOut;
}

/** Between a dose or change and a reading, until the water is mixed (own choice). */
const mixedAfter = 1 / 24;

/**
 * The rate in the readings of a period, by their moments: refuted, unconfirmed and suspect ones, those below
 * detection, before the water had mixed, or in another phase of the dosing are left out. Null with fewer than two
 * readings of one kit a quarter of a day apart.
 *
 * @param doseRelativeSd how well the strength of the doses and the volume are known; 0 to compare a system with itself
 */
export const rateOf = (
  readings: readonly DemandReading[],
  { changes, doses, makeUp }: DemandLog,
  doseRelativeSd = 0,
): DemandRate | null => keptRate(readings, changes, doses, makeUp, doseRelativeSd);

const keptRate = rememberedWith(
  ([first]) => first,
  (
    readings: readonly DemandReading[],
    changes: DemandLog['changes'],
    doses: DemandLog['doses'],
    makeUp: number | null,
    doseRelativeSd: number,
  ) => rateIn(readings, { changes, doses, makeUp }, doseRelativeSd),
);

function rateIn(
  readings: readonly DemandReading[],
  log: DemandLog,
  doseRelativeSd: number,
): DemandRate | null {
  const { kept, leftOut } = usable(readings, log);
  const [fromDay, toDay] = [kept[0]?.day ?? 0, kept.at(-1)?.day ?? 0];
  const level = kept.reduce((sum, { value }) => sum + value, 0) / Math.max(1, kept.length);
  const during = <T extends { day: number }>(all: readonly T[]) =>
    all.filter(({ day }) => day >= fromDay && day < toDay);
  const changes = during(log.changes);
  const doses = during(log.doses);
  const makeUp = log.makeUp ?? level;
  const events = {
    changes: changes.map((change) => ({ ...change, makeUp: change.makeUp ?? makeUp })),
    doses: summed(doses, [...kept, ...changes]),
    doseRelativeSd,
  };
  const hands = [...Map.groupBy(kept, ({ hand }) => hand).values()].filter(spansTime);
  const fits = hands.map((own) => netRate(own, events));
  if (fits.length === 0) return null;
  const used = hands.flat().length;
  if (used < kept.length) leftOut.set('the only one by its kit', kept.length - used);
  const days = toDay - fromDay;
  return {
    ...joined(fits),
    fromDay,
    toDay,
    readings: used,
    level,
    last: lastOf(fits),
    dosedPerDay: doses.reduce((sum, { rise }) => sum + rise, 0) / days,
    changedPerDay:
      -changes.reduce((sum, { fraction }) => sum + Math.log1p(-Math.min(fraction, 0.999)), 0) / days,
    leftOut,
  };
}

/** By the kit that says it best. */
function lastOf(fits: readonly ReturnType<typeof netRate>[]): DemandRate['last'] {
  const [best] = [...fits].sort((a, b) => a.levelSd - b.levelSd);
  return { level: best?.level ?? 0, sd: best?.levelSd ?? 0, cov: best?.cov ?? 0 };
}

/** Rates of several kits over the same days, each by its own weight. */
function joined(fits: readonly ReturnType<typeof netRate>[]) {
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

const spansTime = (readings: readonly DemandReading[]) =>
  (readings.at(-1)?.day ?? 0) - (readings[0]?.day ?? 0) >= 0.25;

/** Doses between two moments that matter as one dose, which is the same and quicker where a doser gives a hundred a day. */
function summed(
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

function usable(readings: readonly DemandReading[], log: DemandLog) {
  const leftOut = new Map<Reason, number>();
  const mixing = [...log.changes.filter(({ fraction }) => fraction > 0.01), ...log.doses]
    .map((done) => ({ day: done.day, rise: 'rise' in done ? Math.abs(done.rise) : Number.POSITIVE_INFINITY }))
    .sort((a, b) => a.day - b.day);
  const relied = [...readings]
    .sort((a, b) => a.day - b.day)
    .filter((reading) => {
      const reason = reasonAgainst(reading, mixing);
      if (reason !== null) leftOut.set(reason, (leftOut.get(reason) ?? 0) + 1);
      return reason === null;
    });
  const kept = likePhase(relied, log.doses);
  if (kept.length < relied.length) leftOut.set('at another hour of the dosing', relied.length - kept.length);
  return { kept, leftOut };
}

function reasonAgainst(
  { trust, suspect, below, day, u }: DemandReading,
  mixing: readonly { day: number; rise: number }[],
) {
  if (trust === 'refuted' || trust === 'unconfirmed') return trust;
  if (suspect) return 'by a kit under suspicion' as const;
  if (below) return 'below detection' as const;
  return isUnmixed(day, u, mixing) ? ('within an hour after a dose or water change' as const) : null;
}

/** Something that matters was put in within the hour before; `mixing` in order of time. */
function isUnmixed(day: number, u: number, mixing: readonly { day: number; rise: number }[]): boolean {
  let [low, high] = [0, mixing.length];
  while (low < high) {
    const half = (low + high) >> 1;
    if ((mixing[half]?.day ?? 0) < day) low = half + 1;
    else high = half;
  }
  for (let i = low - 1; i >= 0; i--) {
    const { day: at, rise } = mixing[i] as { day: number; rise: number };
    if (day - at >= mixedAfter) return false;
    if (rise > u) return true;
  }
  return false;
}

/**
 * The readings of like phase where single doses stand out of the test's error: early, middle or late between two doses,
 * whichever holds the most (the late ones of two). All of them where too few are alike, since the balance takes the
 * doses out anyway; a like phase only keeps a misjudged strength from looking like a change.
 */
export function likePhase<R extends { day: number; u: number }>(
  readings: readonly R[],
  doses: DemandLog['doses'],
): R[] {
  const all = [...readings];
  const times = doses.map(({ day }) => day).sort((a, b) => a - b);
  const cycle = middle(times.slice(1).map((day, i) => day - (times[i] ?? day)));
  const size = middle(doses.map(({ rise }) => Math.abs(rise)));
  const error = middle(readings.map(({ u }) => u));
  if (cycle === null || size === null || error === null || size < 2 * error) return all;
  const phases = Map.groupBy(all, ({ day }) => phaseOf(day, times, cycle));
  const alike =
    [2, 0, 1].map((phase) => phases.get(phase) ?? []).sort((a, b) => b.length - a.length)[0] ?? [];
  const span = (of: readonly R[]) => (of.at(-1)?.day ?? 0) - (of[0]?.day ?? 0);
  return alike.length >= 3 && span(alike) >= span(all) / 2 ? alike : all;
}

/** 0 early after the last dose, 1 in the middle, 2 late or before the first. */
function phaseOf(day: number, times: readonly number[], cycle: number): number {
  const last = times.findLast((time) => time < day);
  return last === undefined ? 2 : Math.min(2, Math.floor((3 * (day - last)) / cycle));
}

/** The middle one; null of none. */
export function middle(values: readonly number[]): number | null {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor((sorted.length - 1) / 2)] ?? null;
}

/** A week of the history: the rate in the days that end there. */
export interface RateAt {
  day: number;
  rate: DemandRate | null;
}

/** Rates in the `days` before each of the last `weeks` sevens of days, oldest first. */
export function weeklyRates(
  readings: readonly DemandReading[],
  log: DemandLog,
  ask: { nowDay: number; days: number; weeks: number; doseRelativeSd: number },
): RateAt[] {
  return Array.from({ length: ask.weeks }, (_, i) => {
    const day = ask.nowDay - 7 * (ask.weeks - 1 - i);
    const inside = within(day - ask.days, day);
    return {
      day,
      rate: rateOf(readings.filter(inside), around(log, day - ask.days, day), ask.doseRelativeSd),
    };
  });
}

/** Whether a moment lies in the days from (not included) to. */
export const within =
  (from: number, to: number) =>
  ({ day }: { day: number }): boolean =>
    day > from && day <= to;

/** The log of some days and of the week before them, which says in which phase the first reading was made. */
export const around = ({ changes, doses, makeUp }: DemandLog, from: number, to: number): DemandLog => ({
  changes: changes.filter(within(from, to)),
  doses: doses.filter(within(from - 7, to)),
  makeUp,
});

/** A dose as it is logged: for the first quantity that it raises. */
export interface LoggedDose {
  day: number;
  substance: string;
  quantityCode: string | null;
  rise: number | null;
}

/** Limewater brings as much calcium as calcification takes with its alkalinity. */
const lime = /limewater|calcium hydroxide|Ca\(OH\)2/i;

/** What the logged doses raise of one quantity, the calcium of limewater included although it is logged for alkalinity. */
export function risesOf(doses: readonly LoggedDose[], code: string): { day: number; rise: number }[] {
  return doses.flatMap(({ day, substance, quantityCode, rise }) => {
    if (rise === null) return [];
    if (quantityCode === code) return [{ day, rise }];
    const limed = code === 'calcium' && quantityCode === 'alkalinity' && lime.test(substance);
    return limed ? [{ day, rise: rise * CALCIUM_PER_ALKALINITY }] : [];
  });
}
