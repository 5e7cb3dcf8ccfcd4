import { memoizeWith } from '../../platform/memoize.ts';
import {
  type CheckOccasion,
  checkError,
  judgeKit,
  type KitEvidence,
  type KitJudgement,
  openingStep,
  pairedDifference,
  type UsualStep,
  usualStep,
} from '../../science/control.ts';
import { combine } from '../../science/statistics/uncertainty.ts';

/** A reading with its kit's bias taken out; canonical. */
export interface CorrectedValue {
  value: number;
  uncertainty: number;
}

/** True where a kit is known to read wrong. Only then are its readings shown corrected. */
export function isBiased<K extends Pick<KitJudgement, 'verdict' | 'bias'>>(
  kit: K | undefined,
): kit is K & { bias: number } {
  return (
    kit !== undefined && kit.bias !== null && (kit.verdict === 'reads low' || kit.verdict === 'reads high')
  );
}

/**
 * A reading with its kit's bias taken out, its uncertainty grown by what is not known of the bias; null where the kit is
 * not known to read wrong, or the reading is only a limit.
 */
export function removeBias(
  reading: { value: number; uncertainty: number; below: boolean; above?: boolean },
  kit: Pick<KitJudgement, 'verdict' | 'bias' | 'sd'> | undefined,
): CorrectedValue | null {
  if (reading.below || reading.above || !isBiased(kit)) return null;
  const value = reading.value / (1 + kit.bias);
  return {
    value,
    uncertainty: combine(reading.uncertainty / (1 + kit.bias), (kit.sd ?? 0) * Math.abs(value)),
  };
}

/** "reads 9 % low (5 to 13 %)", with the interval that holds the bias 19 times in 20; whole, as the watch says it. */
export function biasWords({ bias, sd }: Pick<KitJudgement, 'bias' | 'sd'>): string {
  if (bias === null || sd === null) return 'not known';
  const [low, high] = [Math.abs(bias) - 1.96 * sd, Math.abs(bias) + 1.96 * sd].map((end) =>
    Math.round(end * 100),
  );
  const way = bias < 0 ? 'low' : 'high';
  const interval =
    (low ?? 0) >= 0
      ? `${low} to ${high} %`
      : `${Math.abs(low ?? 0)} % ${bias < 0 ? 'high' : 'low'} to ${high} % ${way}`;
  return `reads ${Math.round(Math.abs(bias) * 100)} % ${way} (${interval})`;
}

/** A reading of the water a kit is used in; `day` in days from any fixed start, value and `u` in one unit. */
export interface KitWaterReading {
  day: number;
  value: number;
  u: number;
  below: boolean;
  trust: string;
  kitId: string | null;
}

/** All evidence on whether a kit reads wrong. */
export interface KitRecord {
  id: string;
  quantityCode: string;
  checks: readonly { day: number; standard: number; value: number; u: number }[];
  /** The same water by another kit (`other`: its id) and by this one; `u`: standard uncertainty of a test. */
  pairs?: readonly { other?: string; old: number; value: number; u: number }[];
  /** Systems it is used in, since when, with their readings by any kit, oldest first. */
  systems: readonly { firstDay: number; readings: readonly KitWaterReading[] }[];
}

/** How far a level wanders within the window, relative, until the system's own is known: simulation study. */
const usualWander: Readonly<Record<string, number>> = { alkalinity: 0.03, nitrate: 0.1 };
const otherWander = 0.05;
/** A system's own wandering is learnt from a dozen windows at most, so that it is never taken for less than this; own choice. */
const smallestWander = 0.01;
/** Tests of a standard within this many hours count as one occasion, since they share one portion; own choice. */
const occasionHours = 6;
/** Relative standard uncertainty of a standard solution on a farm; own choice. */
const standardSd = 0.01;
/** Days of readings before and after the opening that are compared: simulation study. */
const windowDays = 14;
/** The same where that holds fewer than three readings a side, as weekly tests do; own choice. */
const seldomDays = 28;

/** SD by which bottles of one quantity differ, relative: nitrate by the simulation study, the others own choice. */
const bottlesDiffer: Readonly<Record<string, number>> = { alkalinity: 0.04, nitrate: 0.1 };
const otherBottlesDiffer = 0.05;

/**
 * The evidence on a kit's bias, and what it comes to: the step of the readings where it replaced another kit, its checks
 * against a standard, and its tests beside other kits. Relative: a bias of -0.1 reads 10 % low.
 */
export function judgeKitRecord(kit: KitRecord): KitJudgement {
  const { id, quantityCode } = kit;
  const steps = kit.systems.map(({ firstDay, readings }) =>
    stepEvidence(id, quantityCode, firstDay, readings),
  );
  const before = steps.find((step) => step !== null)?.other ?? '';
  const hints = [...steps, checkEvidence(kit), ...pairEvidence(kit, before)];
  return judgeKit(hints, bigBias, bottlesDiffer[kit.quantityCode] ?? otherBottlesDiffer);
}

/**
 * The same, with the bottles that a standard or a third bottle has cleared another one against: they read wrong by what the two
 * differ. Own checks of such a bottle count for more.
 */
export function withNamedBottles(judged: ReadonlyMap<string, KitJudgement>): Map<string, KitJudgement> {
  const all = new Map(judged);
  for (const { before, by } of judged.values()) {
    if (before === null || before.other === '' || judged.get(before.other)?.by === 'standard') continue;
    const { other, bias, sd } = before;
    const verdict = bias < 0 ? 'reads low' : 'reads high';
    const evidence = judged.get(other)?.evidence ?? [];
    all.set(other, { verdict, bias, sd, p: 0, enough: true, by, before: null, evidence });
  }
  return all;
}

/** A bias that matters, relative; own choice. */
const bigBias = 0.1;
/** The usual wandering is as well known as from so many windows; own choice. */
const usualDof = 10;

/** The step of one system's readings where this kit replaced the others; kept with the readings. */
const stepEvidence = memoizeWith(
  (_kit: string, _code: string, _day: number, readings: readonly KitWaterReading[]) => readings,
  stepOf,
);

function stepOf(
  kitId: string,
  quantityCode: string,
  firstDay: number,
  readings: readonly KitWaterReading[],
): KitEvidence | null {
  const relied = readings.filter(({ trust, below, value }) => trust !== 'unconfirmed' && !below && value > 0);
  const before = relied.filter((r) => r.day < firstDay && r.kitId !== kitId);
  const after = relied.filter((r) => r.day >= firstDay && r.kitId === kitId);
  const u = meanRelativeU(after.length > 0 ? after : before);
  if (u === null || before.length === 0 || after.length === 0) return null;
  const stepWithin = (days: number) =>
    openingStep([...before, ...after], firstDay, u, wanderOf(quantityCode, relied, u, days), days);
  const near = stepWithin(windowDays);
  const step = near !== null && near.count >= 3 ? near : (stepWithin(seldomDays) ?? near);
  return step === null ? null : { ...step, other: before.at(-1)?.kitId ?? '' };
}

/**
 * How far this water steps by itself between windows of so many days. Where there are too few of these to learn it, by the
 * shorter windows, as a level that drifts at random goes: with the root of the time.
 */
function wanderOf(code: string, relied: readonly KitWaterReading[], u: number, days: number): UsualStep {
  const openings = firstUseDays(relied);
  const short = () => {
    const own = usualStep(relied, openings, u, windowDays);
    return own === null ? null : { ...own, sd: own.sd * Math.sqrt(days / windowDays) };
  };
  const own = usualStep(relied, openings, u, days) ?? short();
  const { sd, dof } = own ?? { sd: usualWander[code] ?? otherWander, dof: usualDof };
  return { sd: Math.max(smallestWander, sd), dof };
}

/** Days on which a kit was first used in this water. */
function firstUseDays(readings: readonly KitWaterReading[]): number[] {
  const first = new Map<string, number>();
  for (const { kitId, day } of readings) {
    if (kitId !== null && !first.has(kitId)) first.set(kitId, day);
  }
  return [...first.values()];
}

function checkEvidence({ checks }: KitRecord): KitEvidence | null {
  const [first] = checks;
  if (first === undefined) return null;
  const occasions: (CheckOccasion & { until: number })[] = [];
  for (const { day, standard, value } of checks) {
    const open = occasions.at(-1);
    if (open !== undefined && open.known === standard && day <= open.until) {
      open.tests = [...open.tests, value];
    } else {
      occasions.push({
        tests: [value],
        known: standard,
        knownSd: standardSd,
        until: day + occasionHours / 24,
      });
    }
  }
  return checkError(occasions, first.u / first.standard);
}

function pairEvidence({ pairs = [] }: KitRecord, before: string): (KitEvidence | null)[] {
  return [...Map.groupBy(pairs, ({ other = before }) => other)].map(([other, own]) => {
    const [first] = own;
    if (first === undefined) return null;
    const values = own.map(({ old, value }) => ({ old, new: value }));
    return pairedDifference(values, first.u / first.old, other);
  });
}

/** The tests' relative standard uncertainty. */
function meanRelativeU(readings: readonly KitWaterReading[]): number | null {
  if (readings.length === 0) return null;
  return readings.reduce((sum, { u, value }) => sum + u / value, 0) / readings.length;
}
