import { median } from 'd3-array';
import { gramsWords } from '../../platform/units/measures.ts';

/** Why nothing is fed into a water now: "Fish gasp, South hall, since 20:58". */
export interface FeedingHold {
  systemId: string;
  /** What is open there, in words. */
  what: string;
  href: string;
}

/** How often the usual amount is asked about (own choice): a slip of a digit is ten times, a large feeding two or three. */
const FAR = 5;
/** So many earlier feedings tell what is usual (own choice). */
const ENOUGH = 3;

/** What a feeding is compared with. */
export interface FeedingContext {
  holds: readonly FeedingHold[];
  /** Amounts of the same food in this system lately, g. */
  sameFood: readonly number[];
  /** Of any food there, g. */
  anyFood: readonly number[];
}

/** "Do not feed and keep the pumps running: Fish gasp, since 20:58.": what a feeding waits for; '' where nothing holds it. */
export function holdWords(holds: readonly Pick<FeedingHold, 'what'>[]): string {
  if (holds.length === 0) return '';
  return `Do not feed and keep the pumps running: ${holds.map(({ what }) => what).join('; ')}.`;
}

/** The question about an amount far beyond the usual; '' where it is not, or where too little is known. */
export function amountWords(amountG: number | null, { sameFood, anyFood }: FeedingContext): string {
  if (amountG === null) return '';
  const isKnown = sameFood.length >= ENOUGH;
  const usual = isKnown ? (median(sameFood) ?? null) : anyFood.length >= ENOUGH ? Math.max(...anyFood) : null;
  if (usual === null || usual <= 0 || amountG < FAR * usual) return '';
  const times = Math.round(amountG / usual);
  const against = isKnown
    ? `${gramsWords(usual)} that are usual here`
    : `most fed here before, ${gramsWords(usual)}`;
  return `${gramsWords(amountG)} are ${times} times the ${against}. Check the amount, or say that it is correct.`;
}
