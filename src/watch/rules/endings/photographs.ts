import type { SystemFacts } from '../../facts/types.ts';
import type { EndedAlert } from '../../rule-definition/rule.ts';
import { conditionInSentence } from '../shared/conditions.ts';
import { dateOfDay } from '../shared/words.ts';

/** What ended an alert that photographs opened. */
export function photographEnded(facts: SystemFacts, { subject, finding, openedAt }: EndedAlert): string {
  const shots = facts.photographs.flatMap((rack) => rack.shots);
  const own = finding.evidence.filter(({ kind }) => kind === 'photograph').map(({ id }) => id);
  if (own.some((id) => !shots.some((shot) => shot.id === id)))
    return 'a photograph it came from was taken back, or is too old';
  const lot = facts.lots.find(({ id }) => id === subject.id);
  if (subject.type === 'lot' && lot === undefined) return 'the lot is no longer here';
  if (lot !== undefined && own.some((id) => shots.find((shot) => shot.id === id)?.lots.has(lot.id) === false))
    return 'what a photograph measured of it was refused';
  const [look] = lot?.conditions ?? [];
  if (look !== undefined && Date.parse(look.at) > openedAt.getTime())
    return `it was looked at on ${dateOfDay(look.day, facts)}: ${conditionInSentence(look)}`;
  return 'later photographs no longer show it';
}
