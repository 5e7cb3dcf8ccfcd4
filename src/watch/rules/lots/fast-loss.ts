import { type Advice, again, correct, done, isolate, measure } from '../../../alerts/advice.ts';
import { fixed } from '../../../platform/units/everyday.ts';
import { plural } from '../../../platform/words/numbers.ts';
import type { ConditionFact } from '../../facts/types.ts';
import { standingNote } from '../shared/conditions.ts';

/** Flesh that goes within so many days goes fast: an edge that doubles in a day is act now (practice of growers). */
const fastDays = 2;
/** A look of the next morning but one still counts. */
const slack = 0.25;
/** Words of a note that speak of rot or of a loss that doubled. */
const rot = /\b(smell|smells|stink|stinks|stinking|jelly|slimy|rotten|rotting|doubled|twice)\b/i;

const lost = ({ state, grade }: ConditionFact): number =>
  state === 'receding' ? (grade ?? 1) : state === 'lost' ? 3 : 0;

const hoursBetween = (from: ConditionFact, to: ConditionFact) => {
  const hours = Math.round((to.day - from.day) * 24);
  return hours < 1 ? 'less than an hour' : plural(hours, 'hour', 'hours');
};

/** Why the flesh loss at the last look is one of hours: it grew within two days or was seen worse, or its note tells of rot; else null. Newest first. */
export function fastLoss(conditions: readonly ConditionFact[]): string | null {
  const [latest, ...earlier] = conditions;
  if (latest === undefined || latest.state !== 'receding') return null;
  const before = earlier.filter(({ day }) => latest.day - day <= fastDays + slack);
  const least = Math.min(...before.map(lost));
  const grew = before.length > 0 && lost(latest) > Math.max(1, least);
  const first = before.findLast((look) => lost(look) < lost(latest));
  const [last] = before;
  if (latest.compared === 'worse' && last !== undefined && lost(last) > 0)
    return `It was seen worse than ${hoursBetween(last, latest)} before.`;
  if (grew && first !== undefined) return `More flesh is gone than ${hoursBetween(first, latest)} before.`;
  return rot.test(standingNote(conditions)) ? 'The note tells of rot or of a loss that doubled.' : null;
}

/** What is done where flesh goes within hours. */
export const fastLossSteps: readonly Advice[] = [
  isolate(
    'Act now: take it into water of its own today, with tools of its own. See to healthy ones first and to this one last.',
    done('apart'),
  ),
  measure(
    'Photograph the edge with a ruler and the time. Test alkalinity, salinity, temperature, ammonia and oxygen before you blame a disease.',
  ),
  correct(
    `If the edge still moves, cut ${fixed.cm(1, 2)} into healthy flesh (common practice). Give medicines only by a vet.`,
  ),
  again('Photograph it again after 12 and 24 hours.'),
];
