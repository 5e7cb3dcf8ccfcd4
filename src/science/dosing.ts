/** Amounts of what raises alkalinity, calcium and magnesium, and what else they do. */
export { DAILY_CAPS, type DailyCap } from './dosing/daily-caps.ts';
export {
  gramsForRise,
  millilitresForRise,
  type Rise,
  riseFromGrams,
  riseFromMillilitres,
  type Solution,
  solutionByClaim,
  solutionOf,
} from './dosing/dose.ts';
export {
  LIMEWATER_UNCERTAINTY,
  limeSolubilityGPerL,
  limewaterLimitMeqLPerDay,
  phAfterAlkalinityDose,
  riseUpToPh,
  saturatedLimewater,
} from './dosing/limewater.ts';
export { afterLimewater, carbonDioxideG, limewaterFromPh, limewaterL } from './dosing/overdose.ts';
export { dosingPlan } from './dosing/plan.ts';
export { lastingSalinityRise, salinityChangeOfDose } from './dosing/salinity-effect.ts';
export {
  type DosedQuantity,
  limeWords,
  SUBSTANCES,
  type Substance,
  type SubstanceCode,
} from './dosing/substances.ts';
