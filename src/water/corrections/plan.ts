import type { PlanKind } from '../../platform/plans/plans.ts';
import { readCorrections } from './load.ts';
import { type CorrectionState, type CorrectionStep, nextOpenStep } from './state.ts';

/** Corrections as plans. The target ends one, not its last step. */
export const correctionPlan: PlanKind<CorrectionState, CorrectionStep> = {
  planName: 'correction',
  stepName: 'step',
  lockQuery: 'SELECT id FROM correction WHERE id = $1::uuid FOR UPDATE',
  planOfStepQuery: 'SELECT correction_id AS id FROM correction_step WHERE id = $1::uuid',
  plans: (tx) => tx.correction,
  steps: (tx) => tx.correctionStep,
  read: async (reader, id, at) => (await readCorrections(reader, { id }, at))[0],
  stepsOf: ({ steps }) => steps,
  nextSteps: (state) => {
    const step = nextOpenStep(state);
    return step === null ? [] : [step];
  },
  refusals: {
    ended: 'This correction has ended already.',
    endedStep: 'This correction has ended. Log what is in the water already as a dose or a water change.',
    settled: ({ doneAt }) =>
      `This step was ${doneAt === null ? 'left out' : 'already done'}. Open the correction again.`,
    notNext: 'An earlier step is still to be done or left out first.',
  },
  atLastStep: null,
};

/** The correction as a journal line names it. */
export const correctionSubject = (id: string) => ({ type: 'correction' as const, id });
