import type { ContactRole } from '../../generated/prisma/enums.ts';
import type { Sooner } from '../numbers/again.rules.ts';
import type { SharedQuantity } from '../numbers/shared-cause.rules.ts';
import type { SystemNumbers } from '../numbers/system-numbers.rules.ts';

/** The parts of first steps. People come first; air before the source where animals gasp, since it takes seconds and a search does not. */
export const phases = {
  people: 'People safe',
  source: 'Stop the source',
  air: 'Oxygen and movement',
  separate: 'Keep the well ones apart',
  measure: 'Measure',
  correct: 'Correct',
  again: 'Look again',
} as const;

export type Phase = keyof typeof phases;

/** What a person does, in one go. */
export interface Step {
  /** Unique within the event; kept in what was ticked. */
  code: string;
  phase: Phase;
  title: string;
  points: readonly string[];
  /** What it means in numbers for one system. */
  numbers?: (system: SystemNumbers) => string[];
  /** Looks again after so many minutes once it is ticked. */
  againMin?: number;
  /** True where a rate or an amount in it is usual practice, without a published source. */
  practice?: true;
}

/** What can be wrong, as a person sees it, with the steps in order. */
export interface EmergencyEvent {
  code: string;
  group: 'people' | 'house' | 'water' | 'animals';
  title: string;
  hint: string;
  /** Said on top of all steps. */
  caution?: string;
  steps: readonly Step[];
  not: readonly string[];
  call: readonly ContactRole[];
  /** Nobody answers for so many minutes, and the next one is called: 5 where hours do harm, 30 where days do (own choice). */
  silenceMin: 5 | 30;
  /** What shortens the time until the next look, from this system's own numbers. */
  sooner?: readonly Sooner[];
  /** Where systems that go the same way in this quantity share a cause. */
  shared?: SharedQuantity;
  /** A circuit can be behind it, so systems that hang on one are named. */
  power?: true;
}

/** Groups of events as the first page shows them. */
export const groups: Readonly<Record<EmergencyEvent['group'], string>> = {
  people: 'People and electricity',
  house: 'Power, pumps and the room',
  water: 'The water',
  animals: 'The animals',
};

/** Said where mains and water meet; the service never interprets a voltage. */
export const mainsCaution =
  'Mains and water kill. Switch off at the breaker, from a dry place, before a hand goes in. What a meter shows is for a qualified electrician to judge, by local rules.';
