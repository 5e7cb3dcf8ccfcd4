import { memoize } from '../../../platform/memoize.ts';
import type { KitJudgement } from '../../../science/control/kit.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { judgeKitRecord, withNamedBottles } from '../../../water/kits/bias.rules.ts';
import type { KitFact, ReadingFact, SystemFacts } from '../../facts/types.ts';

/** Chance of as much by accident, %, below which a kit is a suspect unless the farm sets another (study on simulated systems). */
export const suspectedPercent = 5;

/** An error of a kit below this, %, is told nowhere unless the farm asks for it, and its readings are relied on. */
export const smallestPercent = 5;

/** What a kit’s checks, pairs and readings say of its bias. Kept with the kit, since most rules ask for it. */
export const judgedKit = memoize<KitFact, KitJudgement>((kit) =>
  judgeKitRecord({ ...kit, systems: kit.openings ?? kit.systems }),
);

/** Whether there is enough to suspect it, and as much by accident is rarer than `suspected` %. */
export const isSuspect = ({ p, enough }: KitJudgement, suspected: number): boolean =>
  enough && p !== null && p * 100 < suspected;

/**
 * Whether the tests around its opening show a bottle to read as the one before: more than 10 % between them is ruled out, and what
 * they differ by is not told. Two bottles that agree are two witnesses; both may be off alike, so it is no standard, and where one was
 * tested that speaks.
 */
export function agreesWithTheBottleBefore(kit: KitFact): boolean {
  const { verdict, by, bias } = judgedKit(kit);
  return (
    kit.checks.length === 0 &&
    verdict === 'no sign' &&
    by === 'two bottles' &&
    Math.abs(bias ?? 1) * 100 < smallestPercent
  );
}

/**
 * Readings of one quantity with a kit's bias taken out where a standard or a third bottle makes it a suspect or names it, so
 * that its step is not taken for the water's. Two bottles that differ say not which of them is wrong: their readings stay.
 */
export function withoutKitBias<R extends { value: number; kitId: string | null }>(
  facts: SystemFacts,
  code: string,
  readings: readonly R[],
): { readings: readonly R[]; kits: KitFact[] } {
  const told = biasedKits(facts).filter(({ kit }) => kit.quantityCode === code);
  const biased = new Map(told.flatMap(({ id, bias, alone }) => (alone ? [] : [[id, bias] as const])));
  if (biased.size === 0) return { readings, kits: [] };
  const kits = told.filter(({ id }) => biased.has(id)).map(({ kit }) => kit);
  return { readings: rescaled(readings, biased), kits: [...new Set(kits)] };
}

const rescaled = <R extends { value: number; kitId: string | null }>(
  readings: readonly R[],
  biased: ReadonlyMap<string, number>,
): R[] =>
  readings.map((reading) => {
    const bias = reading.kitId === null ? undefined : biased.get(reading.kitId);
    return bias === undefined ? reading : { ...reading, value: reading.value / (1 + bias) };
  });

/** What is known of kits, by kit: for the estimates that water works out. */
export const kitJudgements = memoize((facts: SystemFacts) =>
  withNamedBottles(new Map([...facts.kits, ...facts.visitingKits].map((kit) => [kit.id, judgedKit(kit)]))),
);

/** A bottle that reads off, as told by the record of `kit` (itself, or the one that took its place). */
interface BiasedKit {
  id: string;
  kit: KitFact;
  bias: number;
  /** Only another bottle says so, and not which of the two is wrong. */
  alone: boolean;
}

/** Kits that read here and are suspects or named, with how they read, and those that another one was cleared against. */
const biasedKits = memoize((facts: SystemFacts): BiasedKit[] =>
  [...facts.kits, ...facts.visitingKits].flatMap((kit) => {
    const judged = judgedKit(kit);
    const { bias, by, before } = judged;
    if (before !== null && before.other !== '')
      return [{ id: before.other, kit, bias: before.bias, alone: false }];
    const suspect = bias !== null && isSuspect(judged, suspectedPercent);
    return suspect ? [{ id: kit.id, kit, bias, alone: by === 'two bottles' }] : [];
  }),
);

/** Bottles of a quantity of which only another bottle says that they read off, and by how much. */
export const differingBottles = (facts: SystemFacts, code: string): { kit: KitFact; bias: number }[] =>
  biasedKits(facts).filter(({ kit, alone }) => alone && kit.quantityCode === code);

/**
 * The two readings of the case where two bottles differ and nobody knows which is wrong: each reading as it was read, known no
 * better across the change of bottles than they differ, and all by the bottle before. One where none differ.
 */
export function readingsOfTheCase(
  facts: SystemFacts,
  code: string,
  readings: readonly ReadingFact[],
): [asRead: readonly ReadingFact[], byBefore?: readonly ReadingFact[]] {
  const differing = differingBottles(facts, code);
  if (differing.length === 0) return [readings];
  const biases = new Map(differing.map(({ kit, bias }) => [kit.id, bias]));
  const asRead = readings.map((reading) => {
    const bias = reading.kitId === null ? undefined : biases.get(reading.kitId);
    return bias === undefined ? reading : { ...reading, stepU: Math.abs(bias) * reading.value };
  });
  return [asRead, rescaled(readings, biases)];
}

/**
 * The label of a kit whose readings nobody should rely on: biased by as much as is told, past its date or used up; else null. A smaller
 * error, however surely known, would keep all advice waiting for something that no alert tells and nobody can set right.
 */
export function doubtfulKit(facts: SystemFacts, kitId: string, now: Date): string | null {
  const biased = biasedKits(facts).find(
    ({ id, kit, bias }) => id === kitId && kit.id === kitId && Math.abs(bias) * 100 >= smallestPercent,
  );
  if (biased !== undefined) return biased.kit.label;
  const kit = [...facts.kits, ...facts.visitingKits].find(({ id }) => id === kitId);
  return kit !== undefined && isPastUse(kit, now) ? kit.label : null;
}

/** Past its date, or used for as many tests as it is good for. */
export const isPastUse = ({ expiresDay, uses, used }: KitFact, now: Date): boolean =>
  (expiresDay !== null && dayOf(now) >= expiresDay + 1) || (uses !== null && used >= uses);
