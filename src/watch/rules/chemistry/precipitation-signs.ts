import { COMMUNITY_RATIO } from '../../../science/calcification.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { combine } from '../../../science/statistics/uncertainty.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { trustedReadings } from '../levels/simultaneous.ts';

/** Alkalinity and calcium that left the water together though doses went on. Canonical units, rates a day. */
export interface PrecipitationSigns {
  days: number;
  alkalinity: Loss;
  calcium: Loss;
  /** Alkalinity lost a day in the weeks before; null where they were not tested. */
  before: number | null;
  /** Calcium lost a meq/L of alkalinity, mg/L. */
  ratio: number;
}

/** What left the water over a window, doses put back. */
interface Loss {
  from: ReadingFact;
  to: ReadingFact;
  fall: number;
  /** Fall a day since the first test of the last days, at least that over the window; doses not put back. */
  fallsPerDay: number;
  lost: number;
  /** Standard uncertainty of the fall. */
  u: number;
}

export interface PrecipitationSettings {
  days: number;
  times: number;
  clear: number;
}

/** The weeks before, with which the loss is compared; own choice. */
const weeksBefore = 42;
/** Tests of calcium and alkalinity that belong together may lie so many days further back; own choice. */
const calciumDays = 3;
/** Tests tell the ratio badly over days, so it is only asked to be near: half to twice of what is measured. */
const ratioRange = [COMMUNITY_RATIO.low / 2, COMMUNITY_RATIO.high * 2] as const;
/** Days whose tests say how fast it falls now; own choice. */
const latelyDays = 2.5;
/** Where salt fell by this part of what alkalinity fell, fresh water is the better explanation; own choice. */
const saltShare = 0.5;

/**
 * Signs that calcium carbonate forms in the water: both fall surely, doses of alkalinity go on, much more is lost a day
 * than in the weeks before, in about the ratio of carbonate, and the salt does not explain it. Null where one is missing.
 */
export function precipitationSigns(
  facts: SystemFacts,
  now: Date,
  { days, times, clear }: PrecipitationSettings,
): PrecipitationSigns | null {
  const today = dayOf(now);
  const alkalinity = lossOver(facts, 'alkalinity', today - days, today, 3);
  const calcium = lossOver(facts, 'calcium', today - days - calciumDays, today, 2);
  if (alkalinity === null || calcium === null) return null;
  const surely = (loss: Loss) => loss.fall >= clear * loss.u;
  if (!surely(alkalinity) || !surely(calcium) || !isDosed(facts, alkalinity) || isDiluted(facts, alkalinity))
    return null;
  const perDay = alkalinity.lost / spanOf(alkalinity);
  const before = rateBefore(facts, alkalinity.from.day);
  const usual = before === null ? null : Math.max(0, before);
  if (usual !== null && perDay < times * usual) return null;
  const calciumPerDay = calcium.lost / spanOf(calcium);
  const ratio = calciumPerDay / perDay;
  if (ratio < ratioRange[0] || ratio > ratioRange[1]) return null;
  return { days: spanOf(alkalinity), alkalinity, calcium, before: usual, ratio };
}

/** Days between the two readings of a loss. */
const spanOf = ({ from, to }: Pick<Loss, 'from' | 'to'>): number => to.day - from.day;

/** So many tests at each end of the weeks before tell where they began and ended, so that one slip makes no usual loss; own choice. */
const testsAnEnd = 3;

/** Alkalinity lost a day in the weeks before a day, doses put back; null where they were hardly tested. */
function rateBefore(facts: SystemFacts, until: number): number | null {
  const tests = testsIn(facts, 'alkalinity', until - weeksBefore, until);
  if (tests.length < fewestBefore) return null;
  const count = Math.min(testsAnEnd, Math.floor(tests.length / 2));
  const [from, to] = [middleOf(tests.slice(0, count)), middleOf(tests.slice(-count))];
  if (from === undefined || to === undefined || to.day - from.day < 1) return null;
  return (
    (from.value -
      to.value -
      changedOut(facts, 'alkalinity', from, to) +
      dosedIn(facts, 'alkalinity', from, to)) /
    (to.day - from.day)
  );
}

/** Fewest tests of the weeks before. */
const fewestBefore = 3;

/** The one that reads in the middle. */
const middleOf = (tests: readonly ReadingFact[]): ReadingFact | undefined =>
  [...tests].sort((a, b) => a.value - b.value)[Math.floor((tests.length - 1) / 2)];

const testsIn = (facts: SystemFacts, code: string, fromDay: number, toDay: number): ReadingFact[] =>
  trustedReadings(facts, code).filter(
    ({ day, below, above, hand }) => day >= fromDay && day <= toDay && !below && !above && hand === '',
  );

const dosedIn = ({ doses }: SystemFacts, code: string, from: ReadingFact, to: ReadingFact): number =>
  doses
    .filter(({ quantityCode, day }) => quantityCode === code && day > from.day && day <= to.day)
    .reduce((sum, { rise }) => sum + (rise ?? 0), 0);

/** The loss between first and newest reading of a window; the newest two must lie low, so that one slip is no fall. */
function lossOver(
  facts: SystemFacts,
  code: string,
  fromDay: number,
  toDay: number,
  fewest: number,
): Loss | null {
  const readings = testsIn(facts, code, fromDay, toDay);
  const [from, to, previous] = [readings[0], readings.at(-1), readings.at(-2)];
  if (from === undefined || to === undefined || previous === undefined || readings.length < fewest)
    return null;
  if (to.day - from.day < 1) return null;
  const fall = from.value - to.value - changedOut(facts, code, from, to);
  const half = readings.length > 2 && from.value - previous.value < fall / 4;
  if (half && fall > 0) return null;
  const dosed = dosedIn(facts, code, from, to);
  const lately = readings.find(({ day }) => day >= to.day - latelyDays && day <= to.day - 1);
  const now = lately === undefined ? 0 : (lately.value - to.value) / (to.day - lately.day);
  const fallsPerDay = Math.max(now, fall / (to.day - from.day));
  return { from, to, fall, fallsPerDay, lost: fall + dosed, u: combine(from.u, to.u) };
}

/** What water changes took out between two readings, where it is known what the new water holds. */
function changedOut(facts: SystemFacts, code: string, from: ReadingFact, to: ReadingFact): number {
  const usual = facts.kept.get(code)?.makeUp ?? null;
  return facts.changes
    .filter(({ day }) => day > from.day && day <= to.day)
    .reduce((sum, { fraction, makeUp }) => {
      const level = makeUp?.[code] ?? usual;
      return sum + (level === null ? 0 : fraction * (from.value - level));
    }, 0);
}

function isDosed(facts: SystemFacts, { from, to }: Loss): boolean {
  return facts.doses.some(
    ({ quantityCode, rise, day }) =>
      quantityCode === 'alkalinity' && (rise ?? 0) > 0 && day > from.day - 1 && day <= to.day,
  );
}

function isDiluted(facts: SystemFacts, { from, to, fall }: Loss): boolean {
  const salt = trustedReadings(facts, 'salinity').filter(
    ({ day }) => day >= from.day - 2 && day <= to.day + 2,
  );
  const [first, last] = [salt[0], salt.at(-1)];
  if (first === undefined || last === undefined || first.value <= 0) return false;
  return (first.value - last.value) / first.value >= saltShare * (fall / from.value);
}
