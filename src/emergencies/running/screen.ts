import { contactLine } from '../../farm/contacts/contacts.pages.ts';
import { contactRoles } from '../../farm/contacts/roles.ts';
import type { Contact } from '../../generated/prisma/client.ts';
import { type EmergencyEvent, phases, type Step } from '../events/event.ts';
import { sharedCauses } from '../numbers/shared-cause.rules.ts';
import type { SystemNumbers } from '../numbers/system-numbers.rules.ts';
import type { StepState } from './progress.rules.ts';

/** "15 min", "2 hours". */
export function spanWords(minutes: number): string {
  if (minutes < 60) return `${minutes} min`;
  return minutes === 60 ? '1 hour' : `${minutes / 60} hours`;
}

/** The steps of an event for some systems, as the page draws them; the first that is not done stands large. */
export function stepsScreen(
  event: EmergencyEvent,
  systems: readonly SystemNumbers[],
  contacts: readonly Contact[],
  states: readonly StepState[] = event.steps.map((step) => ({ step, done: null })),
  wanted?: string,
) {
  const chosen = states.find(({ step }) => step.code === wanted) ?? states.find(({ done }) => done === null);
  const cards = states.map(({ step, done }, i) => ({
    number: i + 1,
    ...cardOf(step, systems),
    done,
    current: step === (chosen ?? states.at(-1))?.step,
  }));
  return {
    code: event.code,
    caution: event.caution ?? '',
    not: event.not,
    cards,
    call: callList(event, contacts),
  };
}

function cardOf(
  { code, phase, title, points, numbers, againMin, practice }: Step,
  systems: readonly SystemNumbers[],
) {
  const own = systems.map((system) => ({
    id: system.id,
    name: system.name,
    points: numbers?.(system) ?? [],
  }));
  return {
    code,
    phase: phases[phase],
    title,
    points,
    practice: practice ?? false,
    again: againMin === undefined ? '' : spanWords(againMin),
    againMin: againMin ?? 0,
    systems: own.filter((one) => one.points.length > 0),
  };
}

/** Whom to call here, and who of them is not on the farm's list yet. */
function callList({ call }: EmergencyEvent, contacts: readonly Contact[]) {
  const numbers = call.flatMap((role) =>
    contacts.filter((contact) => contact.role === role).map(contactLine),
  );
  const missing = call.filter((role) => !contacts.some((contact) => contact.role === role));
  return { numbers, missing: missing.map((role) => contactRoles[role].name).join(', ') };
}

/** Where it can be: all systems, each of them, and what they share. */
export function whereScreen(event: EmergencyEvent, systems: readonly SystemNumbers[]) {
  return {
    systems: systems.map(({ id, name, volumeL }) => ({ id, name, volumeL })),
    shared: sharedCauses(event.shared, systems),
  };
}
