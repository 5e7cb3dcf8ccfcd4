import { memoize } from '../../../platform/memoize.ts';
import type { KitJudgement } from '../../../science/control/kit.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { judgeKitRecord } from '../../../water/kits/bias.rules.ts';
import type { KitFact, SystemFacts } from '../../facts/types.ts';

/** Chance of as much by accident, %, below which a kit is a suspect unless the farm sets another (study on simulated systems). */
export const suspectedPercent = 5;

/** What a kit’s checks, pairs and readings say of its bias. Kept with the kit, since most rules ask for it. */
export const judgedKit = memoize<KitFact, KitJudgement>((kit) =>
  judgeKitRecord({ ...kit, systems: kit.openings ?? kit.systems }),
);

/** Whether there is enough to suspect it, and as much by accident is rarer than `suspected` %. */
export const isSuspect = ({ p, enough }: KitJudgement, suspected: number): boolean =>
  enough && p !== null && p * 100 < suspected;

/**
 * Readings of one quantity with a kit's bias taken out where a kit is a suspect or named, so that its step is not
 * taken for the water's.
 */
export function withoutKitBias<R extends { value: number; kitId: string | null }>(
  facts: SystemFacts,
  code: string,
  readings: readonly R[],
): { readings: readonly R[]; kits: KitFact[] } {
  const biased = new Map<string, number>();
  const kits = biasedKits(facts).filter(({ kit }) => kit.quantityCode === code);
  if (kits.length === 0) return { readings, kits: [] };
  for (const { kit, bias } of kits) biased.set(kit.id, bias);
  return {
    readings: readings.map((reading) => {
      const bias = reading.kitId === null ? undefined : biased.get(reading.kitId);
      return bias === undefined ? reading : { ...reading, value: reading.value / (1 + bias) };
    }),
    kits: kits.map(({ kit }) => kit),
  };
}

/** What the kits that read here are judged to be, by kit: for the estimates that water works out. */
export const kitJudgements = memoize(
  (facts: SystemFacts): ReadonlyMap<string, KitJudgement> =>
    new Map([...facts.kits, ...facts.visitingKits].map((kit) => [kit.id, judgedKit(kit)])),
);

/** Kits that read here and are suspects or named, with how they read. */
const biasedKits = memoize((facts: SystemFacts): { kit: KitFact; bias: number }[] =>
  [...facts.kits, ...facts.visitingKits].flatMap((kit) => {
    const judged = judgedKit(kit);
    const suspect = judged.bias !== null && isSuspect(judged, suspectedPercent);
    return suspect && judged.bias !== null ? [{ kit, bias: judged.bias }] : [];
  }),
);

/** Kits of a quantity that are suspects or named by the step at their opening alone: no standard and no other kit told. */
export const kitsByStepAlone = (facts: SystemFacts, code: string): KitFact[] =>
  biasedKits(facts)
    .map(({ kit }) => kit)
    .filter(
      (kit) =>
        kit.quantityCode === code && judgedKit(kit).evidence.every(({ from }) => from === 'opening step'),
    );

/** The label of a kit whose readings nobody should rely on: biased, past its date or used up; else null. */
export function doubtfulKit(facts: SystemFacts, kitId: string, now: Date): string | null {
  const biased = biasedKits(facts).find(({ kit }) => kit.id === kitId);
  if (biased !== undefined) return biased.kit.label;
  const kit = [...facts.kits, ...facts.visitingKits].find(({ id }) => id === kitId);
  if (kit === undefined) return null;
  const expired = kit.expiresDay !== null && dayOf(now) >= kit.expiresDay + 1;
  return expired || (kit.uses !== null && kit.used >= kit.uses) ? kit.label : null;
}
