import type { PlanKind } from '../../platform/plans/plans.ts';
import { type Acclimation, type AcclimationStep, nextSteps, readAcclimations } from './state.ts';

/** Acclimations as plans. The last step done or left out ends one. */
export const acclimationPlan: PlanKind<Acclimation, AcclimationStep> = {
  planName: 'acclimation',
  stepName: 'step',
  lockQuery: 'SELECT id FROM acclimation WHERE id = $1::uuid FOR UPDATE',
  planOfStepQuery: 'SELECT acclimation_id AS id FROM acclimation_step WHERE id = $1::uuid',
  plans: (tx) => tx.acclimation,
  steps: (tx) => tx.acclimationStep,
  read: async (reader, id) => (await readAcclimations(reader, { id }))[0],
  stepsOf: ({ steps }) => steps,
  nextSteps,
  refusals: {
    ended: 'This acclimation has ended already.',
    endedStep: 'This acclimation has ended already.',
    settled: () => 'This step was already done or left out. Open the plan again.',
    notNext: 'An earlier step of it is still to be done or left out first.',
  },
  atLastStep: { endReason: 'Its last step is done.', pausedAt: null, pauseReason: null },
};

/** The acclimation as a journal line names it. */
export const acclimationSubject = (id: string) => ({ type: 'acclimation' as const, id });
