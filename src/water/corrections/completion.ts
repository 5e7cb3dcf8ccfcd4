import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { lastDoneAt } from '../../platform/plans/plans.rules.ts';
import { changePlan } from '../../platform/plans/plans.ts';
import { say, sayDifference } from '../quantities/quantities.ts';
import { metBy } from './hold.rules.ts';
import { readCorrections } from './load.ts';
import { correctionPlan, correctionSubject } from './plan.ts';
import { nextOpenStep, nextStepOf } from './state.ts';

/**
 * Finishes the running corrections of these quantities whose target a retest has met. Called with every change of the
 * readings, in the same change.
 */
export async function finishCorrections(
  work: Work,
  systemId: string,
  codes: readonly string[],
): Promise<void> {
  const states = await readCorrections(readerOf(work.tx), { systemIds: [systemId], running: true }, work.now);
  for (const state of states.filter((one) => codes.includes(one.quantity.code))) {
    const step = nextOpenStep(state) ?? state.steps.at(-1);
    if (step === undefined) continue;
    const met = metBy({
      ...nextStepOf(state, step, work.now),
      fromValue: state.reading.value,
      fromAt: state.reading.at,
      waitForAll: nextOpenStep(state) === null && lastDoneAt(state.steps) !== null,
    });
    if (met === null) continue;
    const { quantity } = state;
    await changePlan(work, correctionPlan, state, { finishedAt: work.now });
    work.record('correction.finished', correctionSubject(state.id), {
      system: state.systemName,
      read: say(quantity, met.value),
      target: say(quantity, state.target),
      apart: sayDifference(quantity, Math.abs(met.value - state.target), met.value),
      reading: met.id,
    });
  }
}
