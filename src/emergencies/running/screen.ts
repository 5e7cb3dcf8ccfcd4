import { contactLine } from '../../farm/contacts/contacts.pages.ts';
import { contactRoles } from '../../farm/contacts/roles.ts';
import type { Contact } from '../../generated/prisma/client.ts';
import { type EmergencyEvent, phases, type Step } from '../events/event.ts';
import { againIn } from '../numbers/again.rules.ts';
import { sharedCauses } from '../numbers/shared-cause.rules.ts';
import { lastFigures, type SystemNumbers } from '../numbers/system-numbers.rules.ts';
import type { StepState } from './progress.rules.ts';

/** "15 min", "2 hours". */
export function spanWords(minutes: number): string {
  if (minutes < 60) return `${minutes} min`;
  if (minutes % 60 !== 0) return `${minutes} min`;
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
    next: states[i + 1]?.step ?? null,
    number: i + 1,
    ...cardOf(event, step, systems),
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
  event: EmergencyEvent,
  { code, phase, title, points, numbers, againMin, practice }: Step,
  systems: readonly SystemNumbers[],
) {
  const own = systems.map((system) => ({
    id: system.id,
    name: system.name,
    points: numbers?.(system) ?? [],
    figures: lastFigures(system),
  }));
  return {
    code,
    phase: phases[phase],
    title,
    points,
    practice: practice ?? false,
    ...againOf(event, againMin, systems),
    systems: own.filter((one) => one.points.length > 0),
  };
}

/** When a look follows once the step is ticked: of all these systems, and of each by itself as a tablet takes it. */
function againOf(event: EmergencyEvent, usualMin: number | undefined, systems: readonly SystemNumbers[]) {
  if (usualMin === undefined) return { again: '', againMin: 0, sooner: '', againBy: '' };
  const { minutes, why } = againIn(event, usualMin, systems);
  return {
    again: spanWords(minutes),
    againMin: usualMin,
    sooner: why === '' ? '' : `Sooner than the usual ${spanWords(usualMin)}: ${why}.`,
    againBy: systems.map((system) => `${system.id}:${againIn(event, usualMin, [system]).minutes}`).join(' '),
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

/**
 * Where it can be: all systems, each of them, and what they share.
 * @param asked id of the system that an alert led here from: it comes first
 */
export function whereScreen(event: EmergencyEvent, systems: readonly SystemNumbers[], asked = '') {
  const all = systems.map(({ id, name, volumeL }) => ({ id, name, volumeL, asked: id === asked }));
  return {
    systems: [...all.filter((one) => one.asked), ...all.filter((one) => !one.asked)],
    asked: all.some((one) => one.asked),
    shared: sharedCauses(event, systems),
  };
}
