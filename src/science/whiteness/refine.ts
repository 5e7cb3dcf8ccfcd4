import { median } from 'd3-array';
import type { Polished } from './polish.ts';

/** What is known of one lot of a rack. */
export interface LotFit {
  /** Its own L* at the rack's usual light. */
  level: number;
  /** Its scatter from visit to visit, L*. */
  sd: number;
  /** How much of a shift of the rack it answers (1: as the rack), and the standard uncertainty of that. */
  answers: number;
  answersSd: number;
}

/** How unlike lots answer the same shift, and what the rack's scatter weighs beside a lot's own, in degrees of freedom (own choices). */
export const RACK_WEIGHT = 5;
const UNLIKE = 0.12;
/** Rounds of weighing (own choice: nothing that is told moves after them). */
const ROUNDS = 3;
/** The last visits are what is judged: nothing is learnt of a lot from them. */
const JUDGED = 2;
/** From so many standard deviations on a value counts less (Huber 1964), and what that costs in variance under a normal distribution. */
const HUBER = 1.345;
export const HUBER_COST = 1 / 0.95;

/** A value that lies so far off counts so much. */
const huber = (off: number, sd: number): number => Math.min(1, (HUBER * sd) / Math.max(1e-12, Math.abs(off)));

/** What one lot says of the shift of a visit, and how heavy that is (1 / L*2); 0 where it was not measured. */
export interface Weighed {
  off: number;
  weight: number;
}

/** @param shift as it is thought so far: what lies far from it counts less */
export function weighed(L: number | null, shift: number, { level, sd, answers }: LotFit): Weighed {
  if (L === null) return { off: 0, weight: 0 };
  const off = (L - level) / answers;
  return { off, weight: (answers / sd) ** 2 * huber(answers * (off - shift), sd) };
}

/** The mean of some values in which those far from the middle count less. */
export function huberMean(values: readonly { value: number; weight: number }[], sd: number): number {
  let mean = median(values, ({ value }) => value) ?? Number.NaN;
  for (let round = 0; round < ROUNDS; round++) {
    let [sum, weights] = [0, 0];
    for (const { value, weight } of values) {
      const of = weight * huber(value - mean, sd);
      [sum, weights] = [sum + of * value, weights + of];
    }
    mean = sum / weights;
  }
  return mean;
}

/** A square beyond so many standard deviations counts as that many, and what is then expected of a normal distribution. */
const [BEYOND, EXPECTED] = [2, 0.9205];

/**
 * How far values scatter about what was fitted to them, what is wild cut off (Huber 1964, proposal 2), beside what is thought
 * before, which weighs as much as some of them.
 * @param fitted how many numbers were fitted to the same values
 */
export function scatterBeside(
  left: readonly number[],
  before: { sd: number; weight: number },
  fitted = 1,
): number {
  const freedom = left.length - fitted;
  if (freedom <= 0) return before.sd;
  let variance = before.sd ** 2;
  for (let round = 0; round < 2 * ROUNDS; round++) {
    const most = BEYOND ** 2 * variance;
    const squares = left.reduce((sum, off) => sum + Math.min(most, off * off), 0) / EXPECTED;
    variance = (squares + before.sd ** 2 * before.weight) / (freedom + before.weight);
  }
  return Math.sqrt(variance);
}

/** How much a lot is thought to scatter against the rack's at the least and the most (own choice). */
const [LEAST_AGAINST, MOST_AGAINST] = [0.6, 1.8];

/**
 * How much each lot is thought to scatter against the rack's lots, by the reader's own uncertainties of it: one that it reads
 * badly within one photograph differs more from photograph to photograph (drawn photographs in ten kinds of light, 63 lots:
 * their logarithms correlate by 0.5, by 0.7 where wild photographs are cut off; `npm run bench:photographs -- lights`).
 * @param u the middle uncertainty of each lot
 */
export function scatterAgainst(u: readonly number[]): number[] {
  const middle = median(u) ?? 1;
  return u.map((own) => Math.min(MOST_AGAINST, Math.max(LEAST_AGAINST, (own / middle) ** BY_READING)));
}

/** The power by which they go together (from the same photographs). */
const BY_READING = 0.5;

/** What is known of a rack's lots and visits together. */
export interface Refined {
  lots: LotFit[];
  shifts: number[];
  /** The scatter of all lots together, and how many values more than fitted numbers tell it. */
  sd: number;
  freedom: number;
}

/**
 * Makes a polished table of lots by visits finer: levels and shifts as means in which wild values count less and each lot by
 * its own scatter, which is learnt beside the rack's; and how much of the rack's shift each lot answers, held to 1 by what is
 * thought of lots before.
 * @param table L* of each lot in each visit
 * @param against how much each lot is thought to scatter against the rack's, by `scatterAgainst`
 * @param before the scatter that is thought likely before any photograph, and the least that is believed
 */
export function refined(
  table: readonly (readonly (number | null)[])[],
  { overall, rows, columns }: Polished,
  before: { sd: number; weight: number; least: number },
  against: readonly number[],
): Refined {
  let shifts = [...columns];
  let rackSd = before.sd;
  let lots = rows.map((row): LotFit => ({ level: overall + row, sd: rackSd, answers: 1, answersSd: UNLIKE }));
  let freedom = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const left = table.flatMap((row, i) => leftOf(row, shifts, lots[i] as LotFit));
    const told = table.filter((row) => row.some((L) => L !== null)).length;
    freedom = Math.max(0, left.length - told - Math.max(0, shifts.length - 1));
    rackSd = Math.max(before.least, scatterBeside(left, before, left.length - freedom));
    lots = lots.map((lot, i) => lotFit(table[i] ?? [], shifts, lot, rackSd * (against[i] ?? 1)));
    shifts = shifts.map((shift, j) => {
      const all = lots.map((lot, i) => weighed(table[i]?.[j] ?? null, shift, lot));
      const weights = all.reduce((sum, { weight }) => sum + weight, 0);
      return weights === 0 ? shift : all.reduce((sum, { off, weight }) => sum + weight * off, 0) / weights;
    });
    const usual = median(shifts) ?? 0;
    shifts = shifts.map((shift) => shift - usual);
    lots = lots.map((lot) => ({ ...lot, level: lot.level + lot.answers * usual }));
  }
  return { lots, shifts, sd: rackSd, freedom };
}

/** What is left of a lot's values when its level and its answers to the rack's shifts are taken out. */
const leftOf = (
  row: readonly (number | null)[],
  shifts: readonly number[],
  { level, answers }: LotFit,
): number[] => row.flatMap((L, j) => (L === null ? [] : [L - level - answers * (shifts[j] as number)]));

function lotFit(
  row: readonly (number | null)[],
  shifts: readonly number[],
  { answers, sd }: LotFit,
  likelySd: number,
): LotFit {
  const all = row.flatMap((L, j) => (L === null ? [] : [{ L, shift: shifts[j] as number }]));
  const learnt = all.length > JUDGED + 2 ? all.slice(0, -JUDGED) : all;
  const level = huberMean(
    learnt.map(({ L, shift }) => ({ value: L - answers * shift, weight: 1 })),
    sd,
  );
  const left = learnt.map(({ L, shift }) => ({ left: L - level - shift, shift }));
  let [across, squares] = [0, (likelySd / UNLIKE) ** 2];
  for (const { left: off, shift } of left) {
    const weight = huber(off - (answers - 1) * shift, sd);
    across += weight * off * shift;
    squares += weight * shift * shift;
  }
  const more = across / squares;
  return {
    level,
    sd: scatterBeside(
      left.map(({ left: off, shift }) => off - more * shift),
      { sd: likelySd, weight: RACK_WEIGHT },
    ),
    answers: Math.max(0.5, Math.min(1.5, 1 + more)),
    answersSd: likelySd / Math.sqrt(squares),
  };
}
