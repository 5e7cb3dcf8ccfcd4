import type { KeptFact } from '../record/types.ts';
import type { NutrientCode } from './codes.ts';

/** The level wanted of a nutrient, and where that comes from. */
export interface NutrientTarget {
  value: number;
  source: string;
}

/** Of an edge, this part is aimed at, so that the level does not stay at it; own choice. */
const withinEdge = 0.8;
/** Nitrate that large-polyp stony corals are kept at: common practice, 5 to 10 mg/L as NO3. */
const usualNitrate = 8;
/** From about 30 to 40 mg/L as NO3 growers see trouble: practice, no source. */
const troubleNitrate = 30;
/** Phosphate as corals are kept at: common practice, 0.02 to 0.08 mg/L as PO4. */
const usualPhosphate = 0.05;

/**
 * The one level wanted of a nutrient: the middle of the band kept, just within its only end, or, where no band is kept,
 * the system's own level of the last months, as far as it is one that growers keep.
 *
 * @param own the system's own level; null where it is not known yet
 */
export function nutrientTarget(
  code: NutrientCode,
  kept: Pick<KeptFact, 'bandLow' | 'bandHigh' | 'limitHigh'> | undefined,
  own: number | null,
): NutrientTarget {
  const { bandLow: low = null, bandHigh: high = null, limitHigh: limit = null } = kept ?? {};
  if (low !== null && high !== null)
    return { value: (low + high) / 2, source: 'the middle of the target band' };
  if (high !== null)
    return { value: withinEdge * high, source: 'just within the upper end of the target band' };
  if (low !== null) return { value: low, source: 'the lower end of the target band' };
  if (code === 'phosphate')
    return {
      value: usualPhosphate,
      source: 'common practice, 0.02 to 0.08 mg/L; no target band is set here',
    };
  const most = withinEdge * (limit ?? troubleNitrate);
  if (own !== null && own > usualNitrate && own <= most)
    return { value: own, source: 'the system’s own level of the last months; no target band is set here' };
  return {
    value: Math.min(usualNitrate, most),
    source: 'common practice for large-polyp stony corals, 5 to 10 mg/L; no target band is set here',
  };
}

/**
 * Whether the level is to come down: it stands above what is wanted, or the changes of late lead above what is kept.
 *
 * @param settlesAt where it leads; null where it goes on rising
 */
export function isToComeDown(
  { level, settlesAt, production }: { level: number; settlesAt: number | null; production: number },
  target: number,
  highest: number | null,
): boolean {
  if (level > target) return true;
  return settlesAt === null ? production > 0 : settlesAt > Math.max(target, highest ?? target);
}
