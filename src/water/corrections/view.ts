import { litres, numberWords } from '../../platform/words/numbers.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { type Correctable, marginOf } from '../dosing/substances.rules.ts';
import { say, sayDifference, show, showDifference } from '../quantities/quantities.ts';
import { driftSentence } from './drift.ts';
import { departureOf, type Hold } from './hold.rules.ts';
import { cautionsOf } from './side-effects.rules.ts';
import {
  aheadOf,
  type CorrectionState,
  dueDay,
  heldNow,
  isEarly,
  isRunning,
  openStep,
  type StepState,
} from './state.ts';

/** A correction as a list shows it. */
export function listedCorrection(state: CorrectionState, now: Date) {
  const step = openStep(state);
  return {
    id: state.id,
    href: `/water/corrections/${state.id}`,
    title: correctionTitle(state),
    status: statusWords(state),
    createdAt: state.createdAt,
    by: state.by,
    next:
      !isRunning(state) || step === null
        ? null
        : { title: stepTitle(state, step), dueOn: dueDay(state, step) },
    held: heldNow(state, now)?.words ?? null,
  };
}

/** Everything that the page of one correction says; its numbers in the farm's words. */
export function correctionView(state: CorrectionState, now: Date) {
  const { quantity } = state;
  const step = openStep(state);
  const running = isRunning(state);
  const hold = heldNow(state, now);
  return {
    correction: { id: state.id, version: state.version, title: correctionTitle(state), running },
    status: statusWords(state),
    facts: factsOf(state),
    steps: state.steps.map((one) => stepView(state, one)),
    next:
      !running || step === null
        ? null
        : {
            id: step.id,
            title: stepTitle(state, step),
            dueOn: dueDay(state, step),
            position: step.position,
            retest: step.retest,
            early: isEarly(state, step, now),
          },
    hold: hold === null ? null : holdView(state, hold),
    lastTest: running && step === null ? lastTestWords(state) : null,
    apart: apartWords(state, now),
    cautions: running ? cautionsOf(state.means) : [],
    unit: quantity.displayUnit,
    testHref: `/water/systems/${state.systemId}/readings/new`,
    reviseHref: `/water/systems/${state.systemId}/corrections/new?quantity=${quantity.code}&revises=${state.id}`,
    revisesHref: state.revisesId === null ? null : `/water/corrections/${state.revisesId}`,
    revisedHref: state.revisedById === null ? null : `/water/corrections/${state.revisedById}`,
  };
}

const holdView = (state: CorrectionState, { todo, words }: Hold) => ({
  words,
  test: todo === 'test' ? `Test ${state.quantity.name.toLowerCase()}` : null,
  revise: todo === 'revise',
});

function factsOf(state: CorrectionState) {
  const { quantity, reading, target, dailyCap, capSource, volumeL, basis } = state;
  const rows = [
    {
      label: 'Rests on',
      text: `${say(quantity, reading.value)} ± ${sayDifference(quantity, basis.fromU, reading.value)}`,
      href: `/water/readings/${reading.id}`,
      small: 'confirmed',
    },
    { label: 'Target', text: say(quantity, target), href: '', small: state.reason },
    {
      label: 'At most a day',
      text: sayDifference(quantity, dailyCap, reading.value),
      href: '',
      small: capSource,
    },
    { label: 'With', text: basis.means, href: '', small: strengthWords(state) },
    { label: 'Water', text: litres(volumeL), href: '', small: '' },
    {
      label: 'By itself',
      text: driftSentence(quantity, basis.drift),
      href: '',
      small: '',
    },
    {
      label: 'Held back when',
      text: `a retest departs by more than twice the combined uncertainty and ${marginWords(state)}`,
      href: '',
      small: 'The margin is a quarter of a usual day; own choice.',
    },
  ];
  return rows.map((row) => ({ ...row, unit: '' }));
}

function strengthWords({ basis, quantity, means }: CorrectionState): string {
  if (basis.solution !== null) {
    const { doseMl, volumeL, rise } = basis.solution;
    return `${amountWords(doseMl, 'mL')} in ${litres(volumeL)} raise ${sayDifference(quantity, rise, quantity.plausibleLow)}`;
  }
  if (basis.limewater !== null)
    return `saturated at ${basis.limewater.temperatureDegC} °C, ${litres(basis.limewater.evaporationLPerDay)} evaporate a day`;
  if (means === 'exchange' && basis.makeUp !== null) return `new water of ${say(quantity, basis.makeUp)}`;
  return basis.purity === null ? '' : `${Math.round(basis.purity * 1000) / 10} % pure`;
}

function stepView(state: CorrectionState, step: StepState) {
  const { quantity } = state;
  const seen = state.readings
    .filter((one) => step.doneAt !== null && one.at.getTime() > step.doneAt.getTime() + hourMs)
    .sort((a, b) => a.at.getTime() - b.at.getTime())
    .find((one) => !laterStepBefore(state, step, one.at));
  const change = sayDifference(quantity, Math.abs(step.change), state.target);
  return {
    position: step.position,
    dueOn: step.dueOn,
    title: stepTitle(state, step),
    amount: amountWords(step.amount, step.unit),
    change: `${step.change < 0 ? '−' : '+'}${change}`,
    expected: expectedWords(state, step.expectedAfter, step.expectedU),
    retest: step.retest,
    read:
      seen === undefined
        ? null
        : `${say(quantity, seen.value)}${seen.trust === 'unconfirmed' ? ', unconfirmed' : ''}`,
    doneAt: step.doneAt,
    doneBy: step.doneBy,
    leftOutAt: step.leftOutAt,
    voided: step.voided,
    note: step.note,
  };
}

const laterStepBefore = (state: CorrectionState, step: StepState, at: Date) =>
  state.steps.some((one) => one.position > step.position && one.doneAt !== null && one.doneAt < at);

function lastTestWords(state: CorrectionState): string {
  const { quantity } = state;
  return `All steps are settled. Test ${quantity.name.toLowerCase()}, a day after the last: it is finished by a reading of ${say(quantity, state.target)} within ${marginWords(state)}, or within the test’s own uncertainty. If it reads otherwise, test again and revise.`;
}

/** "Newest test 7.6 dKH, expected 7.7 dKH: 0.1 dKH lower": expected against read, now. */
function apartWords(state: CorrectionState, now: Date): string | null {
  const [newest] = [...state.readings].sort((a, b) => b.at.getTime() - a.at.getTime());
  const step = openStep(state) ?? state.steps.at(-1);
  if (newest === undefined || step === undefined || newest.at <= state.reading.at) return null;
  const { quantity } = state;
  const { expected, by, allowed } = departureOf(aheadOf(state, step, now), newest);
  const side = by < 0 ? 'lower' : 'higher';
  return `Newest test ${say(quantity, newest.value)}, expected then ${say(quantity, expected)}: ${sayDifference(quantity, Math.abs(by), newest.value)} ${side}, where ${sayDifference(quantity, allowed, newest.value)} is explained.`;
}

/** "55.5 g", "1,250 mL". */
export const amountWords = (amount: number, unit: string): string => `${numberWords(amount)} ${unit}`;

/** "Add 55 g of sodium bicarbonate", "Exchange 120 L of water". */
export function stepTitle(
  { means, basis }: Pick<CorrectionState, 'means' | 'basis'>,
  { amount, unit }: Pick<StepState, 'amount' | 'unit'>,
): string {
  return means === 'exchange'
    ? `Exchange ${amountWords(amount, unit)} of water`
    : `Add ${amountWords(amount, unit)} of ${basis.means}`;
}

/** "Alkalinity from 6.9 to 8.3 dKH by sodium bicarbonate". */
export function correctionTitle({ quantity, reading, target, basis }: CorrectionState): string {
  const from = show(quantity, reading.value).text;
  return `${quantity.name} from ${from} to ${say(quantity, target)} by ${basis.means}`;
}

/** How a correction stands: "running, 1 of 3 steps done", "finished", "stopped: …". */
export function statusWords(state: CorrectionState): string {
  const done = state.steps.filter((step) => step.doneAt !== null).length;
  const steps = `${done} of ${state.steps.length} ${state.steps.length === 1 ? 'step' : 'steps'} done`;
  if (state.finishedAt !== null) return `finished, ${steps}`;
  if (state.stoppedAt !== null) return `stopped, ${steps}: ${state.stopReason ?? ''}`;
  return isRunning(state) ? `running, ${steps}` : steps;
}

/** "7.5 dKH ± 0.3": the level expected after a step, with one standard uncertainty. */
export function expectedWords(
  { quantity }: Pick<CorrectionState, 'quantity'>,
  value: number,
  u: number,
): string {
  return `${say(quantity, value)} ± ${showDifference(quantity, u, value).text}`;
}

/** What a retest may differ by before a step is held back. */
export function marginWords({ quantity }: Pick<CorrectionState, 'quantity'>): string {
  return sayDifference(quantity, marginOf(quantity.code as Correctable), quantity.plausibleLow);
}
