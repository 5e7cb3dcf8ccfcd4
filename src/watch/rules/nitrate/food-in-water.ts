import { capitalized } from '../../../platform/words/capitals.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { say } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { doubtfulKit } from '../levels/kit-bias.ts';
import { nameOf, quantityNamed } from '../shared/words.ts';

/** Whether the water feeds its stock, by the last tests of nitrate and phosphate. */
export interface FoodInWater {
  /** `doubtful`: it reads starved by a kit that nobody should rely on, or by one test that waits for its repeat. */
  state: 'fed' | 'starved' | 'doubtful' | 'unknown';
  /** What to do about it, as steps; '' where there is nothing to do. */
  words: string;
  /** What was read, where that is not in the steps. */
  note: string;
}

/** Tests older than this say nothing of today; own choice. */
const recentDays = 21;
/** At or below these the water counts as starved: the limits of the rule on nitrate, mg/L. */
const scarce: Readonly<Record<'nitrate' | 'phosphate', number>> = { nitrate: 0.5, phosphate: 0.02 };

/** Nitrate and phosphate at the last look at them. Phosphate alone that is missing counts as starved too. */
export function foodInWater(facts: SystemFacts, now: Date): FoodInWater {
  const lasts = (['nitrate', 'phosphate'] as const).flatMap((code) => {
    const last = facts.readings.get(code)?.at(-1);
    return last === undefined || dayOf(now) - last.day > recentDays ? [] : [{ code, last }];
  });
  if (lasts.length === 0) return { state: 'unknown', words: '', note: '' };
  const low = lasts.filter(({ code, last }) => last.below || last.value <= lowOf(facts, code));
  if (low.length === 0) return { state: 'fed', words: '', note: '' };
  const said = low.map(({ code, last }) => readWords(facts, code, last)).join(' and ');
  const doubted = low
    .map(({ last }) => (last.kitId === null ? null : doubtfulKit(facts, last.kitId, now)))
    .find((kit) => kit !== null);
  if (doubted !== undefined)
    return {
      state: 'doubtful',
      words: `Check the kit first: “${doubted}” cannot be relied on. Test with another kit or in a laboratory before anything is fed for it.`,
      note: `${capitalized(said)}.`,
    };
  if (low.every(({ last }) => last.trust === 'unconfirmed'))
    return {
      state: 'doubtful',
      words: 'Test again first.',
      note: `${capitalized(said)}, once and not repeated.`,
    };
  return {
    state: 'starved',
    words: 'Feed small foods, more often, and test both again in a week.',
    note: `The water is poor in food: ${said}.`,
  };
}

const lowOf = (facts: SystemFacts, code: 'nitrate' | 'phosphate'): number =>
  Math.min(facts.kept.get(code)?.bandLow ?? scarce[code], scarce[code]);

const readWords = (facts: SystemFacts, code: string, { value, below }: ReadingFact): string =>
  `${nameOf(facts, code)} read ${say(quantityNamed(facts, code), value, below)}`;
