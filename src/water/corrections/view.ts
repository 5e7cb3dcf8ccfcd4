import { doneWords, isRunning } from '../../platform/plans/plans.rules.ts';
import { levelWords } from '../../platform/units/everyday.ts';
import { gramsWords, litres, litresNoted } from '../../platform/units/measures.ts';
import { numberWords, plural, withSign } from '../../platform/words/numbers.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { type Correctable, marginOf } from '../dosing/substances.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { say, sayDifference, show, showDifference } from '../quantities/quantities.ts';
import { driftSentence } from './drift.ts';
import { type CorrectionHold, departureOf } from './hold.rules.ts';
import { cautionsOf } from './side-effects.rules.ts';
import {
  type CorrectionRecord,
  type CorrectionState,
  type CorrectionStep,
  currentHold,
  dueDay,
  isEarly,
  nextOpenStep,
  nextStepOf,
} from './state.ts';

/** A correction as a list shows it. */
export function correctionRow(record: CorrectionRecord) {
  return {
    id: record.id,
    href: `/water/corrections/${record.id}`,
    title: correctionTitle(record),
    status: correctionStatus(record),
    createdAt: record.createdAt,
    by: record.by,
  };
}

/** A running correction as a list shows it: with its next step, and why that is held back. */
export function runningCorrectionRow(state: CorrectionState, now: Date) {
  const step = nextOpenStep(state);
  return {
    ...correctionRow(state),
    next: step === null ? null : { title: correctionStepTitle(state, step), dueOn: dueDay(state, step) },
    held: currentHold(state, now)?.words ?? null,
  };
}

/** Everything that the page of one correction says; its numbers in the farm's words. */
export function correctionView(state: CorrectionState, now: Date) {
  const { quantity } = state;
  const step = nextOpenStep(state);
  const running = isRunning(state);
  const hold = currentHold(state, now);
  return {
    correction: { id: state.id, version: state.version, title: correctionTitle(state), running },
    status: correctionStatus(state),
    facts: factsOf(state),
    steps: state.steps.map((one) => stepView(state, one)),
    next:
      !running || step === null
        ? null
        : {
            id: step.id,
            title: correctionStepTitle(state, step),
            dueOn: dueDay(state, step),
            position: step.position,
            after: afterWords(step.afterHours),
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

const holdView = (state: CorrectionState, { todo, words }: CorrectionHold) => ({
  words,
  test: todo === 'test' ? `Test ${nameInSentence(state.quantity.name)}` : null,
  revise: todo === 'revise',
});

function factsOf(state: CorrectionState) {
  const { quantity, reading, target, dailyCap, capSource, volumeL, basis } = state;
  const rows = [
    {
      label: 'Based on',
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
      label: 'Without it',
      text: driftSentence(quantity, { counted: basis.drift, broke: basis.broke, leftOut: basis.leftOut }),
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
    return `${stepAmountWords(doseMl, 'mL')} in ${litres(volumeL)} raise ${sayDifference(quantity, rise, quantity.plausibleLow)}`;
  }
  if (basis.limewater !== null)
    return `saturated at ${levelWords('temperature', basis.limewater.temperatureDegC)}, ${litres(basis.limewater.evaporationLPerDay)} evaporate a day`;
  if (means === 'exchange' && basis.makeUp !== null) return `new water of ${say(quantity, basis.makeUp)}`;
  return basis.purity === null ? '' : `${Math.round(basis.purity * 1000) / 10} % pure`;
}

function stepView(state: CorrectionState, step: CorrectionStep) {
  const { quantity } = state;
  const seen = state.readings
    .filter((one) => step.doneAt !== null && one.at.getTime() > step.doneAt.getTime() + hourMs)
    .sort((a, b) => a.at.getTime() - b.at.getTime())
    .find((one) => !laterStepBefore(state, step, one.at));
  const change = sayDifference(quantity, Math.abs(step.change), state.target);
  return {
    position: step.position,
    dueOn: step.dueOn,
    title: correctionStepTitle(state, step),
    amount: stepAmountWords(step.amount, step.unit),
    change: withSign(step.change, change),
    expected: expectedWords(state, step.expectedAfter, step.expectedU),
    retest: step.retest,
    after: afterWords(step.afterHours),
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

const laterStepBefore = (state: CorrectionState, step: CorrectionStep, at: Date) =>
  state.steps.some((one) => one.position > step.position && one.doneAt !== null && one.doneAt < at);

function lastTestWords(state: CorrectionState): string {
  const { quantity } = state;
  return `All steps are settled. Test ${nameInSentence(quantity.name)}, a day after the last: it is finished by a reading of ${say(quantity, state.target)} within ${marginWords(state)}, or within the test’s own uncertainty. If it reads otherwise, test again and revise.`;
}

/** "Newest test 7.6 dKH, expected 7.7 dKH: 0.1 dKH lower": expected against read, now. */
function apartWords(state: CorrectionState, now: Date): string | null {
  const [newest] = [...state.readings].sort((a, b) => b.at.getTime() - a.at.getTime());
  const step = nextOpenStep(state) ?? state.steps.at(-1);
  if (newest === undefined || step === undefined || newest.at <= state.reading.at) return null;
  const { quantity } = state;
  const { expected, by, allowed } = departureOf(nextStepOf(state, step, now), newest);
  const side = by < 0 ? 'lower' : 'higher';
  return `Newest test ${say(quantity, newest.value)}, expected then ${say(quantity, expected)}: ${sayDifference(quantity, Math.abs(by), newest.value)} ${side}, where ${sayDifference(quantity, allowed, newest.value)} is explained.`;
}

/** "2 hours after the one before"; null where a step is of another day. */
export const afterWords = (afterHours: number | null): string | null =>
  afterHours === null ? null : `${plural(afterHours, 'hour', 'hours')} after the one before`;

/** "55.5 g", "1,250 mL". */
export function stepAmountWords(amount: number, unit: string): string {
  if (unit === 'L') return litresNoted(amount);
  return unit === 'g' ? gramsWords(amount) : `${numberWords(amount)} ${unit}`;
}

/** "Add 55 g of sodium bicarbonate", "Exchange 120 L of water". */
export function correctionStepTitle(
  { means, basis }: Pick<CorrectionState, 'means' | 'basis'>,
  { amount, unit }: Pick<CorrectionStep, 'amount' | 'unit'>,
): string {
  return means === 'exchange'
    ? `Exchange ${stepAmountWords(amount, unit)} of water`
    : `Add ${stepAmountWords(amount, unit)} of ${basis.means}`;
}

/** "Alkalinity from 6.9 to 8.3 dKH by sodium bicarbonate". */
export function correctionTitle({ quantity, reading, target, basis }: CorrectionRecord): string {
  const from = show(quantity, reading.value).text;
  return `${quantity.name} from ${from} to ${say(quantity, target)} by ${basis.means}`;
}

/** How a correction stands: "running, 1 of 3 steps done", "finished", "stopped: …". */
export function correctionStatus({ steps, finishedAt, stoppedAt, stopReason }: CorrectionRecord): string {
  if (finishedAt !== null) return `finished, ${doneWords(steps)}`;
  if (stoppedAt !== null) return `stopped, ${doneWords(steps)}: ${stopReason ?? ''}`;
  return `running, ${doneWords(steps)}`;
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
