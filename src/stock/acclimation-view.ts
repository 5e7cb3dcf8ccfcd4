import { freshForm } from '../platform/web/forms.ts';
import { localDay } from '../platform/web/moments.ts';
import { dateWords, numberWords } from '../platform/words.ts';
import { heldNow, type Surroundings } from './acclimation-ahead.ts';
import type { Place } from './acclimation-plan.rules.ts';
import { type Acclimation, isRunning, nextSteps, type StepState } from './acclimation-state.ts';
import { RECEIVED } from './acclimation-wish.ts';
import { cautionWords, statusWords, stepTitle, timesWords } from './acclimation-words.ts';
import { dailyWords } from './light/words.ts';

/** The step that is due first, and why it is held back once its day has come. */
function firstStep(acclimation: Acclimation, around: Surroundings) {
  const steps = isRunning(acclimation) ? nextSteps(acclimation) : [];
  const [first] = [...steps].sort((a, b) => a.dueOn.localeCompare(b.dueOn));
  const today = localDay(around.now, acclimation.timeZone);
  const due = first !== undefined && (first.dueOn <= today || acclimation.pausedAt !== null);
  return {
    first,
    count: steps.length,
    held: due ? (heldNow(acclimation, first, around)?.words ?? null) : null,
  };
}

/** One acclimation in a list. */
export function listedAcclimation(acclimation: Acclimation, around: Surroundings) {
  const { first, count, held } = firstStep(acclimation, around);
  return {
    href: `/stock/acclimations/${acclimation.id}`,
    name: acclimation.name,
    status: statusWords(acclimation),
    next: first === undefined ? null : { title: stepTitle(first), dueOn: first.dueOn },
    more: count - 1,
    held,
    by: acclimation.by,
    createdAt: acclimation.createdAt,
    ended: acclimation.endReason,
  };
}

/** One acclimation in full; `places` are the other places its next steps may go to. */
export function acclimationView(
  acclimation: Acclimation,
  around: Surroundings,
  places: ReadonlyMap<string, readonly Place[]>,
) {
  const { steps, lots } = acclimation;
  const anyDone = steps.some((step) => step.doneAt !== null);
  const byLamps = steps.some((step) => step.lampId !== null);
  return {
    plan: acclimation,
    status: statusWords(acclimation).replace(/^./, (letter) => letter.toUpperCase()),
    paused: acclimation.pauseReason,
    next: isRunning(acclimation)
      ? nextSteps(acclimation).map((step) => nextView(acclimation, step, around, places.get(step.id) ?? []))
      : [],
    steps: steps.map(rowOf),
    facts: factsOf(acclimation),
    anyDone,
    backLots: byLamps || lots.length < 2 ? [] : lots.map(({ id, code }) => ({ value: id, text: code })),
  };
}

function nextView(acclimation: Acclimation, step: StepState, around: Surroundings, places: readonly Place[]) {
  const early = step.dueOn > localDay(around.now, acclimation.timeZone);
  const hold = heldNow(acclimation, step, around);
  return {
    id: step.id,
    position: step.position,
    dueOn: step.dueOn,
    title: stepTitle(step),
    lamps: step.lampId !== null,
    early: early && hold?.todo !== 'choose',
    held: hold?.words ?? null,
    choose: hold?.todo === 'choose',
    light:
      step.par === null ? '' : `Its light there: about ${numberWords(Math.round(step.par))} µmol/(m² s).`,
    caution: cautionWords(step.lampId !== null),
    places: places.map(({ slotIds, name, par }) => ({
      value: slotIds.join(' '),
      text: `${name}, ${numberWords(Math.round(par))} µmol/(m² s)`,
    })),
    key: freshForm().key,
    placeKey: freshForm().key,
    omitKey: freshForm().key,
  };
}

function rowOf(step: StepState) {
  const done = step.doneAt !== null ? 'done' : step.leftOutAt !== null ? 'left out' : '';
  return {
    position: step.position,
    dueOn: step.dueOn,
    title: stepTitle(step),
    par: step.par === null ? '' : numberWords(Math.round(step.par)),
    daily: dailyWords(step.dli),
    done,
    at: step.doneAt ?? step.leftOutAt,
    by: step.doneBy,
    note: step.note,
  };
}

function factsOf({
  received,
  fromDli,
  targetDli,
  maxStepRatio,
  dwellDays,
  purpose,
  by,
  createdAt,
  timeZone,
}: Acclimation) {
  return [
    { label: 'Light before', text: RECEIVED[received], small: `reckoned from ${dailyWords(fromDli)}` },
    { label: 'Goes to', text: dailyWords(targetDli), small: purpose },
    { label: 'At most', text: timesWords(maxStepRatio), small: 'what they are used to when a step is taken' },
    { label: 'Stays', text: `${numberWords(dwellDays)} days`, small: 'or more on each step' },
    { label: 'Planned', text: dateWords(createdAt, timeZone), small: by ?? '' },
  ];
}
