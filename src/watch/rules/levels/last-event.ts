import type { ReadingFact, SystemFacts } from '../../facts/types.ts';

/**
 * The readings since the last event that changed the habits of the water: what is learnt of it begins there, and nothing is
 * averaged across it. The same list where there was no event.
 */
export function sinceLastEvent(
  { events }: Pick<SystemFacts, 'events'>,
  readings: readonly ReadingFact[],
): readonly ReadingFact[] {
  const last = events.at(-1);
  return last === undefined ? readings : readings.filter(({ day }) => day >= last.day);
}
