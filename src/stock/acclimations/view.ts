import { localDay } from '../../platform/days.ts';
import { doneWords, isRunning } from '../../platform/plans/plans.rules.ts';
import { freshForm } from '../../platform/web/forms.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { dayCount, numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { dailyWords } from '../light/words.ts';
import { RECEIVED } from './acclimations.schema.ts';
import { type StepContext, stepHold } from './next-step.ts';
import type { CandidatePlace, Gap } from './slot-steps.rules.ts';
import { type Acclimation, type AcclimationStep, nextSteps } from './state.ts';

/** The step that is due first, and why it is held back once its day has come. */
function firstStep(acclimation: Acclimation, context: StepContext) {
  const steps = isRunning(acclimation) ? nextSteps(acclimation) : [];
  const [first] = [...steps].sort((a, b) => a.dueOn.localeCompare(b.dueOn));
  const today = localDay(context.now, acclimation.timeZone);
  const due = first !== undefined && (first.dueOn <= today || acclimation.pausedAt !== null);
  return {
    first,
    count: steps.length,
    held: due ? (stepHold(acclimation, first, context)?.words ?? null) : null,
  };
}

/** One acclimation in a list. */
export function acclimationRow(acclimation: Acclimation, context: StepContext) {
  const { first, count, held } = firstStep(acclimation, context);
  return {
    href: `/stock/acclimations/${acclimation.id}`,
    name: acclimation.name,
    status: acclimationStatus(acclimation),
    next: first === undefined ? null : { title: acclimationStepTitle(first), dueOn: first.dueOn },
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
  context: StepContext,
  places: ReadonlyMap<string, readonly CandidatePlace[]>,
) {
  const { steps, lots } = acclimation;
  const anyDone = steps.some((step) => step.doneAt !== null);
  const byLamps = steps.some((step) => step.lampId !== null);
  return {
    plan: acclimation,
    status: capitalized(acclimationStatus(acclimation)),
    paused: acclimation.pauseReason,
    next: isRunning(acclimation)
      ? nextSteps(acclimation).map((step) => nextView(acclimation, step, context, places.get(step.id) ?? []))
      : [],
    steps: steps.map(rowOf),
    facts: factsOf(acclimation),
    anyDone,
    backLots: byLamps || lots.length < 2 ? [] : lots.map(({ id, code }) => ({ value: id, text: code })),
  };
}

function nextView(
  acclimation: Acclimation,
  step: AcclimationStep,
  context: StepContext,
  places: readonly CandidatePlace[],
) {
  const early = step.dueOn > localDay(context.now, acclimation.timeZone);
  const hold = stepHold(acclimation, step, context);
  return {
    id: step.id,
    position: step.position,
    dueOn: step.dueOn,
    title: acclimationStepTitle(step),
    lamps: step.lampId !== null,
    early: early && hold?.todo !== 'choose',
    held: hold?.words ?? null,
    choose: hold?.todo === 'choose',
    light:
      step.par === null ? '' : `Its light there: about ${numberWords(Math.round(step.par))} µmol/(m² s).`,
    caution: cautionWords(step.lampId !== null),
    trouble: context.troubles.get(step.id) ?? '',
    places: places.map(({ slotIds, name, par }) => ({
      value: slotIds.join(' '),
      text: `${name}, ${numberWords(Math.round(par))} µmol/(m² s)`,
    })),
    key: freshForm().key,
    placeKey: freshForm().key,
    omitKey: freshForm().key,
  };
}

function rowOf(step: AcclimationStep) {
  const done = step.doneAt !== null ? 'done' : step.leftOutAt !== null ? 'left out' : '';
  return {
    position: step.position,
    dueOn: step.dueOn,
    title: acclimationStepTitle(step),
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
    { label: 'Light before', text: RECEIVED[received], small: `worked out from ${dailyWords(fromDli)}` },
    { label: 'Goes to', text: dailyWords(targetDli), small: purpose },
    { label: 'At most', text: timesWords(maxStepRatio), small: 'what they are used to when a step is taken' },
    { label: 'Stays', text: dayCount(dwellDays), small: 'or more on each step' },
    { label: 'Planned', text: dateWords(createdAt, timeZone), small: by ?? '' },
  ];
}

/** What a step does: "Move R46-TKR to Rack S2, A3", "Turn North bars to 72 %". */
export function acclimationStepTitle({
  code,
  place,
  lamp,
  percent,
}: Pick<AcclimationStep, 'code' | 'place' | 'lamp' | 'percent'>): string {
  if (lamp !== null) return `Turn ${lamp} to ${numberWords(percent ?? 0)} %`;
  return place === '' ? `Find a place for ${code}` : `Move ${code} to ${place}`;
}

/** "3 steps over 18 days", "1 step". */
export function planLengthWords(positions: number, days: number): string {
  const steps = `${positions} ${positions === 1 ? 'step' : 'steps'}`;
  return days === 0 ? steps : `${steps} over ${numberWords(days)} ${days === 1 ? 'day' : 'days'}`;
}

/** "1.15 times". */
export const timesWords = (times: number): string => `${numberWords(Number(times.toPrecision(3)))} times`;

/** "No free place between 80 and 95 µmol/(m² s). Shade Rack S2, A7 (130) to 73 %, or turn the lamps." */
export function gapWords({ low, high, next }: Gap, perPar: number): string {
  const par = (dli: number) => numberWords(Math.round(dli / perPar));
  const range =
    low <= 0
      ? `up to ${par(high)}`
      : par(low) === par(high)
        ? `of about ${par(high)}`
        : `between ${par(low)} and ${par(high)}`;
  const where = `No free place ${range} µmol/(m² s).`;
  if (next === null) return `${where} Make one free, or turn the lamps.`;
  const share = Math.min(99, Math.floor((high / next.dli) * 100));
  const par1 = numberWords(Math.round(next.par));
  return next.dli > high
    ? `${where} Shade ${next.name} (${par1}) to ${share} % of its light, make a place free, or turn the lamps.`
    : `${where} The next is ${next.name} (${par1}). Make one free, or turn the lamps.`;
}

/** How an acclimation stands: "running, 2 of 5 steps done", "paused", "ended". */
export function acclimationStatus({ steps, pausedAt, endedAt }: Acclimation): string {
  if (endedAt !== null) return `ended, ${doneWords(steps)}`;
  return `${pausedAt === null ? 'running' : 'paused'}, ${doneWords(steps)}`;
}

/** What to heed before a step. */
export const cautionWords = (lamps: boolean): string =>
  lamps
    ? 'Turn them at their control, with dry hands; switch them off at the plug before anything else is done to them.'
    : 'Look at it first: if it is pale, note that instead of moving it.';
