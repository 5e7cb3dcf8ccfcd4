import { levelSinceHabitsChanged, sinceHabitsChanged } from '../../../farm/events/habits.rules.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';

type Events = Pick<SystemFacts, 'events'>;

/** The readings from which a rule may learn a habit of this water: those since its habits last changed. */
export const sinceLastEvent = ({ events }: Events, readings: readonly ReadingFact[]) =>
  sinceHabitsChanged(events, readings);

/** The readings by which a rule may follow a level: the last relied on before its habits changed, and all since. */
export const levelSinceLastEvent = ({ events }: Events, readings: readonly ReadingFact[]) =>
  levelSinceHabitsChanged(events, readings, ({ trust }) => trust !== 'unconfirmed');
