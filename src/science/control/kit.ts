import { inRange } from '../numeric/range.ts';
import { normalTail } from '../statistics/normal.ts';
import { studentWithin } from '../statistics/student.ts';
import { weightedMean } from '../statistics/uncertainty.ts';
import type { KitEvidence } from './kit-evidence.ts';

export type KitVerdict = 'reads low' | 'reads high' | 'suspect' | 'kit or water, cannot tell yet' | 'no sign';

/** How a bottle differs from another one: `bias` is this one's reading over the other's, less 1. */
interface Difference {
  other: string;
  bias: number;
  sd: number;
  /** Two-sided probability of as much by chance. */
  p: number;
  enough: boolean;
}

export interface KitJudgement {
  verdict: KitVerdict;
  /**
   * Joint estimate of the relative bias, its SD, and the two-sided probability of as much by chance, times the looks
   * there were; null without evidence. By bottles alone: of their difference.
   */
  bias: number | null;
  sd: number | null;
  p: number | null;
  /** Whether there is enough to suspect it. */
  enough: boolean;
  /** Whether a standard or a third bottle speaks of it, or only its difference from another bottle, which does not say whose. */
  by: 'standard' | 'third bottle' | 'two bottles' | 'nothing';
  /** The bottle it was compared with, where what clears this one says that the other reads wrong, and by how much. */
  before: { other: string; bias: number; sd: number } | null;
  evidence: KitEvidence[];
}

/** Chances below which a kit is named, and suspected. */
const [namedBelow, suspectedBelow] = [0.01, 0.05];
/** SD by which bottles of one kind differ, relative, where the caller does not know better; own choice. */
const bottlesDiffer = 0.04;

/**
 * Joins all that hints at a kit's bias. A step at its opening and pairs with another bottle say that two bottles differ,
 * not which: they make both suspects at p < 0.05 and name neither. A standard, or a third bottle, tells which: then all is
 * weighted by 1/SD^2, what bottles say with the spread of bottles added, and the kit reads low or high at p < 0.01, is suspect
 * at p < 0.05; where that clears it and the bottles surely differ, the other one is named (`before`). Nothing is told from
 * fewer than three readings on a side or three pairs, since 1 in 50 tests is a slip, nor from a step before its seventh day;
 * nor from fewer than four check tests, unless without the furthest of them the others say the same. Waters that step together
 * count together. Every further occasion of checks is one more look at the same kit, so p counts once more for each
 * (Bonferroni), and a true kit is suspected in about 1 of 20 in all its life. There is no sign when a bias of `material`
 * (10 %) is ruled out at 95 %; else one cannot tell yet. Tails are Student's t where an SD was learnt from the water.
 *
 * Design and power by simulation, in DEVELOPERS.md.
 */
export function judgeKit(
  hints: readonly (KitEvidence | null)[],
  material = 0.1,
  differ = bottlesDiffer,
): KitJudgement {
  inRange(material, 0.001, 1, 'bias that matters');
  const evidence = hints.filter((hint) => hint !== null);
  const untold = { bias: null, sd: null, p: null, enough: false, before: null, by: 'nothing' as const };
  if (evidence.length === 0) return { verdict: 'kit or water, cannot tell yet', ...untold, evidence };
  const checks = evidence.filter(({ from }) => from === 'checks');
  const compared = differencesOf(evidence.filter(({ from }) => from !== 'checks'));
  if (checks.length > 0) return { ...byStandard(checks, compared, material, differ), evidence };
  const told = byThirdBottle(compared, differ);
  if (told !== null) return { ...told, evidence };
  const [widest] = compared.toSorted((a, b) => Number(b.enough) - Number(a.enough) || a.p - b.p);
  if (widest === undefined) return { verdict: 'kit or water, cannot tell yet', ...untold, evidence };
  const { bias, sd, p, enough } = widest;
  const differs = enough && p < suspectedBelow;
  const verdict = differs ? 'suspect' : verdictOf(bias, sd, 1, material, enough);
  return { verdict, bias, sd, p, enough, by: 'two bottles', before: null, evidence };
}

type Told = Omit<KitJudgement, 'evidence'>;

/** What all steps and pairs say, by the bottle that it is compared with. */
function differencesOf(compared: readonly KitEvidence[]): Difference[] {
  return [...Map.groupBy(compared, ({ other = '' }) => other)].map(([other, own]) => {
    const { bias, sd, p } = joined(own);
    return { other, bias, sd, p, enough: own.some(isEnough) || stepTogether(own) };
  });
}

/** Readings a side of several waters that stepped together, at least; own choice. */
const sideTogether = 5;

/**
 * Whether waters stepped together where each is tested too seldom to tell by itself: enough readings a side in all, and not
 * by the water alone that stepped most, since one slip looks the same there.
 */
function stepTogether(evidence: readonly KitEvidence[]): boolean {
  const steps = evidence.filter(
    ({ from, days = firstStepDays }) => from === 'opening step' && days >= firstStepDays,
  );
  const [most, ...others] = steps.toSorted((a, b) => Math.abs(b.bias) - Math.abs(a.bias));
  if (most === undefined || others.length === 0) return false;
  if (steps.reduce((sum, { count }) => sum + count, 0) < sideTogether) return false;
  const rest = joined(others);
  return rest.bias * most.bias > 0 && rest.p < suspectedBelow;
}

/** From so many degrees of freedom on Student's t is taken for normal: its tail at 1 in 100 is off by a fiftieth. */
const normalFrom = 200;

/** Weighted by 1/SD^2, with Student's t of as many degrees of freedom as stand behind the SD. */
function joined(evidence: readonly KitEvidence[]): { bias: number; sd: number; p: number } {
  const { value: bias, u: sd } = weightedMean(evidence.map((e) => ({ value: e.bias, u: e.sd })));
  const limited = weightedMean(evidence.map((e) => ({ value: e.limited ?? e.bias, u: e.sd }))).value;
  // Welch and Satterthwaite: part i of the variance is sd^4 / sd_i^2.
  const known = evidence.reduce((sum, e) => sum + (sd ** 4 / e.sd ** 2) ** 2 / (e.dof ?? Infinity), 0);
  const dof = known === 0 ? Infinity : sd ** 4 / known;
  return {
    bias,
    sd,
    p:
      dof < normalFrom
        ? 1 - studentWithin(Math.abs(limited) / sd, dof)
        : 2 * normalTail(Math.abs(limited) / sd),
  };
}

function byStandard(
  checks: readonly KitEvidence[],
  compared: readonly Difference[],
  material: number,
  differ: number,
): Told {
  const bottles = compared.map(
    ({ bias, sd }): KitEvidence => ({ from: 'pairs', bias, sd: Math.hypot(sd, differ), count: 3 }),
  );
  const { bias, sd, p: once } = joined([...checks, ...bottles]);
  const looks = checks.reduce((sum, one) => sum + (one.looks ?? 1), 0) + Number(compared.length > 0);
  const p = Math.min(1, once * looks);
  const surely = checks.some(isEnough);
  // Two tests that a step bears out are no slip.
  const tested = surely || (compared.some((one) => one.enough) && checks.some(({ count }) => count > 1));
  const enough = tested || compared.some((one) => one.enough);
  const verdict = verdictOf(bias, sd, tested ? p : Math.max(p, namedBelow), material, enough);
  const told = {
    verdict,
    bias,
    sd,
    p,
    enough,
    before: null,
    by: tested ? 'standard' : 'two bottles',
  } as const;
  if (!surely || (enough && p < suspectedBelow)) return told;
  const other = compared.find((one) => one.enough && one.p < namedBelow && isCleared(joined(checks), one));
  return other === undefined ? told : { ...told, before: otherOf({ bias, sd }, other) };
}

/** The bottle that both others agree against: this one where it differs from two on one side, the other where a third bears this one out. */
function byThirdBottle(compared: readonly Difference[], differ: number): Told | null {
  const told = compared.filter((one) => one.enough);
  const off = told.filter(({ p }) => p < suspectedBelow);
  const [first, second] = off;
  if (first === undefined || told.length < 2) return null;
  if (second !== undefined) {
    if (first.bias * second.bias < 0) return null;
    const wide = off.map(
      ({ bias, sd }): KitEvidence => ({ from: 'pairs', bias, sd: Math.hypot(sd, differ), count: 3 }),
    );
    const { bias, sd } = joined(wide);
    // Each alone is a matter of chance once in twenty, both on one side far rarer.
    const p = Math.min(1, 2 * off.reduce((all, one) => all * (one.p / 2), 1));
    return {
      verdict: verdictOf(bias, sd, p, Infinity, true),
      bias,
      sd,
      p,
      enough: true,
      before: null,
      by: 'third bottle',
    };
  }
  const third = told.find((one) => one !== first && isCleared(one, first));
  if (third === undefined || first.p >= namedBelow) return null;
  const own = { bias: third.bias / 2, sd: Math.hypot(third.sd, differ) / Math.SQRT2 };
  return { verdict: 'no sign', ...own, p: 1, enough: true, before: otherOf(own, first), by: 'third bottle' };
}

/** Whether what is known of this bottle rules out that the difference is its own. */
const isCleared = (own: { bias: number; sd: number }, difference: Difference): boolean =>
  Math.abs(difference.bias - own.bias) > 1.96 * Math.hypot(own.sd, difference.sd) &&
  Math.abs(own.bias) < Math.abs(difference.bias) / 2;

/** What the other bottle reads wrong by, given what this one does and how the two differ. */
const otherOf = (own: { bias: number; sd: number }, { other, bias, sd }: Difference) => ({
  other,
  bias: (1 + own.bias) / (1 + bias) - 1,
  sd: Math.hypot(own.sd, sd),
});

function verdictOf(bias: number, sd: number, p: number, material: number, enough: boolean): KitVerdict {
  if (p < namedBelow && enough) return bias < 0 ? 'reads low' : 'reads high';
  if (p < suspectedBelow && enough) return 'suspect';
  return Math.abs(bias) + 1.96 * sd < material ? 'no sign' : 'kit or water, cannot tell yet';
}

/** Days from the opening on that a step has to rest on. */
const firstStepDays = 7;

function isEnough({ from, count, agreed = false, days = firstStepDays }: KitEvidence): boolean {
  return (count >= (from === 'checks' ? 4 : 3) || agreed) && days >= firstStepDays;
}
