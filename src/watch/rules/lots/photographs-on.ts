import { numberWords } from '../../../platform/words/numbers.ts';
import { coverageFactor } from '../../../science/statistics/student.ts';
import { type Asked, tellLightening } from '../../../science/whiteness/lightening.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import type { Onset } from '../shared/conditions.ts';
import { dateOfDay } from '../shared/words.ts';
import { judgedOf } from './lightened.ts';

/** What photographs make of paling that somebody noted: how much more or less it weighs among others, and in words. */
export interface SeenInPhotographs {
  weight: number;
  text: string;
}

/** Own choices: they move it among others of its urgency, and never change how urgent it is: what an eye saw stands. */
const [STRONGER, WEAKER] = [1.25, 0.8];

/**
 * Whether two photographs, the last of them taken since it was first noted pale, bear it out; null where they cannot tell.
 */
export function photographsOn(
  facts: SystemFacts,
  lot: LotFact,
  { firstBad }: Onset,
  asked: Asked,
  now: Date,
): SeenInPhotographs | null {
  const found = judgedOf(facts, lot, asked, now);
  // A photograph of the same day counts whether it was taken just before or after the look.
  if (found === null || found.judged.days[1] < firstBad.day - 0.5) return null;
  const { judged } = found;
  const on = judged.days.map((day) => dateOfDay(day, facts)).join(' and ');
  if (tellLightening(judged, asked) === 'told')
    return {
      weight: STRONGER,
      text: `bear it out: ${numberWords(judged.mean, 1)} L* lighter than its own line, on ${on}`,
    };
  const most = (judged.mean + coverageFactor(0.9) * judged.sd) / Math.max(1, 100 - judged.line);
  if (most >= asked.share) return null;
  return {
    weight: WEAKER,
    text: `show no lightening on ${on}: ${numberWords(judged.mean, 1)} ±${numberWords(judged.sd, 1)} L* against its own line`,
  };
}
