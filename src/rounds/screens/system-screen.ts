import { uuidv7 } from 'uuidv7';
import { eventCodes, eventKinds } from '../../farm/events/kinds.rules.ts';
import { spanWords } from '../../farm/switched-off/span.words.ts';
import { thingOf, things } from '../../farm/switched-off/things.rules.ts';
import { notFound } from '../../platform/refusal.ts';
import { gramsWords } from '../../platform/units/measures.ts';
import type { FormState } from '../../platform/web/forms.ts';
import { navigationFrom } from '../round/progress.rules.ts';
import type { RoundSheet } from '../round/round-sheet.ts';
import type { FeedingChoices } from '../round/tests-and-feedings.ts';
import { choreRows, headOf, rackPath, roundPath, type Screen, systemPath, testsPath } from './screens.ts';
import { systemTasks } from './task-rows.ts';

/** What the forms of a system's screen offer, and the state of the one that came back. */
interface SystemChoices {
  feeding: FeedingChoices;
  /** The names of its tests, in bench order. */
  tests: readonly string[];
  form: FormState;
}

/** How what was fed may have been taken, as it is offered. */
const RESPONSES = ['Taken at once', 'Taken slowly', 'Hardly taken', 'Not taken'];

/** How much was fed, in words; '' where nobody said. */
const amountOf = ({ amountG }: { amountG: number | null }) => (amountG === null ? '' : gramsWords(amountG));

/** One system's steps: what was tested and fed on this round, the forms to test and feed, what is off. */
export function systemScreen(
  sheet: RoundSheet,
  systemId: string,
  { feeding, tests, form }: SystemChoices,
): Screen {
  const { round } = sheet;
  const system = sheet.systems.find((one) => one.id === systemId);
  if (system === undefined) throw notFound('This system, on this round,');
  const path = systemPath(round.id, systemId);
  const due = systemTasks(sheet, systemId, form);
  return {
    view: 'rounds/system',
    title: `${system.name}: ${round.plan.name}`,
    data: {
      ...headOf(sheet),
      system,
      path,
      nextRack: nextRackOf(sheet, systemId),
      walked: round.plan.steps.includes('look') && round.finishedAt === null,
      end: `${roundPath(round.id)}/end`,
      tests: round.plan.steps.includes('test') || due.tests.length > 0,
      testsDue: due.tests,
      testNames: tests,
      testsPath: testsPath(round.id, systemId),
      tasks: due.ticks,
      chores: choreRows(sheet, systemId, form),
      feeds: round.plan.steps.includes('feed'),
      responses: RESPONSES,
      tested: sheet.tested.filter((one) => one.systemId === systemId),
      fed: sheet.fed
        .filter((one) => one.systemId === systemId)
        .map((one) => ({ ...one, amount: amountOf(one), entryId: uuidv7() })),
      off: sheet.off
        .filter((one) => one.systemId === systemId)
        .map((one) => ({
          ...one,
          state: things[one.thing].state,
          caution: things[one.thing].caution,
          late: sheet.now >= one.dueAt,
          dueIso: one.dueAt.toISOString(),
          key: uuidv7(),
        })),
      devices: sheet.equipment.filter((one) => one.systemId === systemId).map(deviceOption),
      picks: picksOf(sheet, systemId),
      typedOff: cameBack(form, 'switch_off', ['why', 'minutes']),
      typedEvent: cameBack(form, 'event', ['note']),
      typedFault: cameBack(form, 'fault', ['equipmentId', 'seen']),
      offEntryId: uuidv7(),
      faultEntryId: uuidv7(),
      eventEntryId: uuidv7(),
      happenings: eventCodes.map((value) => ({ value, text: eventKinds[value] })),
      bench: `/water/systems/${systemId}/readings/new?back=${encodeURIComponent(path)}`,
      entries: `${roundPath(round.id)}/entries`,
      holds: sheet.holds.filter((hold) => hold.systemId === systemId),
      asksWhy: sheet.holds.some((hold) => hold.systemId === systemId),
      asksSure: form.errors.some(({ field }) => field === 'amountG-sure'),
      known: feeding.known,
      before: feeding.before.map((one) => ({ ...one, amount: amountOf(one), entryId: uuidv7() })),
      tanks: feeding.tanks,
    },
  };
}

/** What was typed in the form of one kind of entry, and whether it came back. */
function cameBack({ typed, errors }: FormState, kind: string, names: readonly string[]) {
  const came = errors.length > 0 && typed.kind === kind;
  return { came, ...Object.fromEntries(names.map((name) => [name, came ? String(typed[name] ?? '') : ''])) };
}

/** The next rack to look at after the water of a system; null where none is left, or none is looked at. */
export function nextRackOf({ round, racks, rackStates }: RoundSheet, systemId: string): string | null {
  if (!round.plan.steps.includes('look') || round.finishedAt !== null) return null;
  const last = racks.findLast((rack) => rack.systemId === systemId);
  const ids = racks.map(({ id }) => id);
  const { next } = navigationFrom(ids, last?.id ?? null, rackStates);
  return next === null ? null : rackPath(round.id, next);
}

const deviceOption = ({ id, name, tankName }: RoundSheet['equipment'][number]) => ({
  value: id,
  text: tankName === null ? name : `${name}, ${tankName}`,
});

/** What can be switched off here: each device that is on, then everything else. */
function picksOf({ equipment, offTimes }: RoundSheet, systemId: string) {
  const due = new Map(offTimes.map(({ thing, dueMin }) => [thing, spanWords(dueMin)]));
  const devices = equipment.filter((one) => one.systemId === systemId && one.off === null);
  return [
    ...devices.map((one) => ({
      value: `equipment:${one.id}`,
      text: deviceOption(one).text,
      due: due.get(thingOf[one.kind]),
    })),
    ...offTimes.map(({ thing }) => ({
      value: `thing:${thing}`,
      text: things[thing].name,
      due: due.get(thing),
    })),
  ];
}
