import { median } from 'd3-array';
import { MEDIAN_COST, ROBUST_SHARE, robustSd } from '../statistics/repeatability.ts';
import type { LotVisit, RackSeries, Shift } from './rack-series.ts';
import { HUBER_COST, huberMean, RACK_WEIGHT, scatterBeside } from './refine.ts';

/** A lot's own line reaches back so many days (own choice: a season changes colours), and is made of so many visits at least. */
export const LINE_DAYS = 120;
export const LEAST_VISITS = 3;
/** A visit counts the less in a line the older it is: to 1/e in so many days (own choice: colours wander over weeks). */
const FADES_DAYS = 90;
/** What one of two photographs shows beyond the other counts up to so many times the scatter (own choice, tuned). */
const BEYOND_OTHER = 1.4;
/** How alike two visits that follow each other scatter (own choice: colours wander over weeks). */
const ALIKE = 0.3;

/** A lot against its own line in its last two visits. */
export interface Lightening {
  /** Its own line, L*, and how many visits it is made of. */
  line: number;
  visits: number;
  /** The time of the last visit of its line, and of the two. */
  lineDay: number;
  days: [number, number];
  /** How much lighter each is, L*; below 0 darker. */
  lighter: [number, number];
  /** The mean of both, its standard uncertainty, and the same as a part of the way to white. */
  mean: number;
  sd: number;
  share: number;
  /**
   * By how many standard uncertainties the mean lies above the line, the greater of the two counted no further above the
   * lesser than one that bears it out; and by how many the lesser does.
   */
  sure: number;
  lesser: number;
  /** The lesser as a part of the way to white. */
  lesserShare: number;
}

/** Why a lot is not judged. */
export type NotJudged = 'too few photographs';

/**
 * The last two visits of a lot against the middle of those before.
 * @param begins visits before this day belong to another line
 */
export function lighteningOf(
  { scatter }: Pick<RackSeries, 'scatter'>,
  all: readonly LotVisit[],
  begins = Number.NEGATIVE_INFINITY,
): Lightening | NotJudged {
  const visits = all.filter(({ day }) => day >= begins);
  const [p, q] = visits.slice(-2);
  if (p === undefined || q === undefined) return 'too few photographs';
  const before = visits.slice(0, -2).filter(({ day }) => day >= p.day - LINE_DAYS);
  if (before.length < LEAST_VISITS) return 'too few photographs';
  const middle = median(before, ({ L }) => L) as number;
  const sd = scatterBeside(
    before.map(({ L }) => L - middle),
    { sd: scatter.sd * q.against, weight: RACK_WEIGHT },
  );
  const usualU = median(before, ({ u }) => u) as number;
  // A photograph that reads a lot worse than usual counts as much less.
  const noise = ({ u }: LotVisit) => sd ** 2 + Math.max(0, u ** 2 - usualU ** 2);
  const shifted = ({ shift, shiftSd, answersSd }: LotVisit) => shiftSd ** 2 + (answersSd * shift) ** 2;
  const weights = before.map((one) => ({
    value: one.L,
    weight: (sd ** 2 / (noise(one) + shifted(one))) * Math.exp(-(p.day - one.day) / FADES_DAYS),
  }));
  const line = huberMean(weights, sd);
  const whole = weights.reduce((sum, { weight }) => sum + weight, 0);
  const squares = weights.reduce((sum, { weight }) => sum + weight * weight, 0);
  const lineVariance = (HUBER_COST * sd ** 2 * squares) / (whole * whole);
  const sdOf = (one: LotVisit) => Math.sqrt(noise(one) + shifted(one) + lineVariance);
  const lighter: [number, number] = [p.L - line, q.L - line];
  const mean = (lighter[0] + lighter[1]) / 2;
  const lesser = Math.min(...lighter);
  // One wild photograph beside a usual one: what it shows beyond the other says no more.
  const borneOut = lesser + Math.min(Math.max(...lighter) - lesser, BEYOND_OTHER * sd) / 2;
  // The shifts of two visits may lie off by the same, and what a lot itself wanders is in both.
  const meanSd = Math.sqrt(
    ((noise(p) + noise(q)) / 4) * (1 + ALIKE) + (shifted(p) + shifted(q)) / 2 + lineVariance,
  );
  return {
    ...{ line, visits: before.length, lineDay: (before.at(-1) as LotVisit).day, days: [p.day, q.day] },
    ...{ lighter, mean, sd: meanSd, share: mean / Math.max(1, 100 - line) },
    sure: borneOut / meanSd,
    lesser: Math.min(lighter[0] / sdOf(p), lighter[1] / sdOf(q)),
    lesserShare: lesser / Math.max(1, 100 - line),
  };
}

/** What a rack shares in its last two visits against its usual. */
export interface RackShift {
  days: [number, number];
  lineDay: number;
  /** L* above its usual in each; below 0 darker. */
  by: [number, number];
  mean: number;
  sure: number;
  lots: number;
}

/** From so many earlier visits on a rack's usual shift is known, and from so many lots on it is the rack's (own choices). */
const [SHIFT_VISITS, SHIFT_LOTS] = [4, 5];
/** What is thought of a rack's shift from visit to visit before its own are known, L*, and its weight (own choices). */
const USUAL_SHIFT = { sd: 1, freedom: 3 };

/** How far all lots of a rack moved together in its last two visits; null where that cannot be told. */
export function rackShift({ shifts }: Pick<RackSeries, 'shifts'>): RackShift | null {
  const told = shifts.filter(({ lots }) => lots >= SHIFT_LOTS);
  const [p, q] = told.slice(-2);
  if (p === undefined || q === undefined) return null;
  const before = told.slice(0, -2).filter(({ day }) => day >= p.day - LINE_DAYS);
  if (before.length < SHIFT_VISITS) return null;
  const usual = median(before, ({ value }) => value) as number;
  const freedom = (before.length - 1) * ROBUST_SHARE;
  const own = robustSd(before.map(({ value }) => value));
  const { sd: thought, freedom: weight } = USUAL_SHIFT;
  const sd = Math.sqrt((own ** 2 * freedom + thought ** 2 * weight) / (freedom + weight));
  const by: [number, number] = [p.value - usual, q.value - usual];
  const mean = (by[0] + by[1]) / 2;
  const same = Math.sign(by[0]) === Math.sign(by[1]);
  const lesser = same ? Math.min(Math.abs(by[0]), Math.abs(by[1])) : 0;
  const meanSd = sd * Math.sqrt(0.5 + MEDIAN_COST / before.length);
  return {
    ...{
      days: [p.day, q.day],
      lineDay: (before.at(-1) as Shift).day,
      by,
      mean,
      lots: Math.min(p.lots, q.lots),
    },
    sure: lesser > sd ? Math.abs(mean) / meanSd : 0,
  };
}

/** What is asked of a lot before it is told: how sure, and the least lightening as a part of the way to white. */
export interface Asked {
  sure: number;
  share: number;
}

/**
 * In each of the two photographs a lot has to lie above its line by so many standard uncertainties, and by such a part of what
 * is asked of both (own choices, tuned): one photograph alone tells nothing.
 */
const EACH = { sure: 1, share: 0.5 };

/** What was told stays until it is less than this part of what was asked (own choice). */
const STAYS = 0.6;

/** Whether a lot's lightening is told, enough to stay told, or neither. */
export function tellLightening(found: Lightening, asked: Asked): 'told' | 'stays' | 'not told' {
  const reaches = (part: number) =>
    found.lesser >= part * EACH.sure &&
    found.lesserShare >= part * EACH.share * asked.share &&
    found.sure >= part * asked.sure &&
    found.share >= part * asked.share;
  if (reaches(1)) return 'told';
  return reaches(STAYS) ? 'stays' : 'not told';
}

/** What else is known of a lot that is judged: when it was last cut, and when somebody looked at it and found it well, days. */
export interface Known {
  cutDay: number | null;
  wellDays: readonly number[];
}

/**
 * A lot against its own line as it holds now: its line begins anew where it was cut, and where somebody looked at it after it
 * had been told and found it well, so that one look answers it.
 */
export function lighteningNow(
  series: Pick<RackSeries, 'scatter'>,
  visits: readonly LotVisit[],
  { cutDay, wellDays }: Known,
  asked: Asked,
): Lightening | NotJudged {
  let begins = cutDay ?? Number.NEGATIVE_INFINITY;
  for (const well of [...wellDays].sort((a, b) => a - b)) {
    const then = lighteningOf(
      series,
      visits.filter(({ day }) => day <= well),
      begins,
    );
    if (typeof then !== 'string' && tellLightening(then, asked) === 'told') begins = then.days[0];
  }
  return lighteningOf(series, visits, begins);
}
