import { numberWords, plural } from '../../platform/words/numbers.ts';
import type { KeptFact } from '../record/types.ts';
import type { NutrientCode } from './codes.ts';

/** The level wanted of a nutrient, and where that comes from. */
export interface NutrientTarget {
  value: number;
  source: string;
}

/** What the care of one kind that lives in the water asks of a nutrient, mg/L; either end may be open. */
export interface KindWish {
  kind: string;
  low: number | null;
  high: number | null;
}

/** Of an edge, this part is aimed at, so that the level does not stay at it; own choice. */
const withinEdge = 0.8;
/** From about 30 to 40 mg/L as NO3 growers see trouble: practice, no source. */
const troubleNitrate = 30;
/** Any reef water, mg/L as NO3 and as PO4: common practice, low confidence (targets of articles differ a hundredfold). */
const anyReef: Readonly<Record<NutrientCode, readonly [low: number, high: number]>> = {
  nitrate: [1, 20],
  phosphate: [0.02, 0.08],
};

/**
 * The one level wanted of a nutrient: the middle of the band kept, just within its only end, or, where no band is kept,
 * the system's own level of the last months, as far as it is one that growers keep; else the middle of what the kinds
 * that live there are kept at.
 *
 * @param own the system's own level; null where it is not known yet
 * @param living what the care of each lot there asks for; none where nothing is known to live there
 */
export function nutrientTarget(
  code: NutrientCode,
  kept: Pick<KeptFact, 'bandLow' | 'bandHigh' | 'limitHigh'> | undefined,
  own: number | null,
  living: readonly KindWish[],
): NutrientTarget {
  const { bandLow: low = null, bandHigh: high = null, limitHigh: limit = null } = kept ?? {};
  if (low !== null && high !== null)
    return { value: (low + high) / 2, source: 'the middle of the target band' };
  if (high !== null)
    return { value: withinEdge * high, source: 'just within the upper end of the target band' };
  if (low !== null) return { value: low, source: 'the lower end of the target band' };
  const usual = usualFor(code, living);
  const most = withinEdge * (limit ?? (code === 'nitrate' ? troubleNitrate : usual.high));
  if (code === 'nitrate' && own !== null && own > usual.value && own <= most)
    return { value: own, source: 'the system’s own level of the last months; no target band is set here' };
  return { value: Math.min(usual.value, most), source: usual.source };
}

/**
 * The middle of what the kinds there are kept at, by ratio, since ranges of nutrients span tenfold and more. A kind whose care
 * says nothing of it asks for nothing; of kinds that exclude each other the first by name counts, so that every page says one.
 */
function usualFor(code: NutrientCode, living: readonly KindWish[]) {
  let [low, high] = anyReef[code];
  const asking = new Set<string>();
  const wishes = living.filter(({ low: least, high: most }) => least !== null || most !== null);
  for (const wish of wishes.toSorted((a, b) => (a.kind < b.kind ? -1 : Number(a.kind > b.kind)))) {
    const [under, over] = [Math.max(low, wish.low ?? low), Math.min(high, wish.high ?? high)];
    if (under < over) {
      [low, high] = [under, over];
      asking.add(wish.kind);
    }
  }
  const value = low > 0 ? Math.sqrt(low * high) : high / 2;
  const range = `${numberWords(low)} to ${numberWords(high)} mg/L`;
  const unsaid =
    living.length === 0
      ? 'what lives here is not known, and no target band is set'
      : 'the care of what lives here says nothing of it, and no target band is set';
  const source =
    asking.size === 0
      ? `the middle of ${range}, common practice for any reef water: ${unsaid}`
      : `the middle of ${range}, as the care of ${whoWords(asking)} asks (common practice); no target band is set here`;
  return { value: Number(value.toPrecision(2)), high, source };
}

/** How many kinds are named. */
const named = 2;

const whoWords = (kinds: ReadonlySet<string>): string =>
  kinds.size <= named
    ? [...kinds].sort().join(' and ')
    : plural(kinds.size, 'kind that lives here', 'kinds that live here');

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
