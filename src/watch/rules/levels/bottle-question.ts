import type { SystemFacts } from '../../facts/types.ts';
import { dateOfDay, nameOf } from '../shared/words.ts';

/** What is tested out of bottles, so that a new one may move a level that did not move. */
const bottled = ['alkalinity', 'calcium', 'magnesium', 'phosphate', 'nitrate'];
/** A bottle opened within so many days is named; own choice: a week more than its first step is looked at. */
const lately = 21;

/**
 * What is asked before a level is set right: whether a new bottle moved it. A bottle that nobody told of looks like a fall of the
 * water. Empty for what is read without one.
 */
export function bottleQuestion(facts: SystemFacts, code: string): string {
  if (!bottled.includes(code)) return '';
  const last = facts.readings.get(code)?.at(-1);
  const kit = [...facts.kits, ...facts.visitingKits].find(({ id }) => id === last?.kitId);
  if (kit !== undefined && last !== undefined && last.day - kit.openedDay <= lately)
    return `${kit.label} was opened on ${dateOfDay(kit.openedDay, facts)}: does it read as the bottle before did? Test a standard with it before anything is dosed.`;
  return `Was a new bottle of the ${nameOf(facts, code)} test opened that nobody entered? Enter it, and test a standard with it before anything is dosed.`;
}
