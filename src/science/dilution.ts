/** Water changes, mixtures and the levels they lead to. */
export { afterExchange, mixWaters, type Water } from './dilution/mixing.ts';
export {
  type ExchangeStep,
  salinityAfterExchange,
  salinityExchangeL,
  salinityPlan,
} from './dilution/salinity-exchange.ts';
export {
  type ChangeHabit,
  type ChangeStep,
  changeSeries,
  fractionForCeiling,
  productionPerDay,
  type SteadyLevel,
  steadyLevel,
} from './dilution/steady-state.ts';
export {
  afterContinuousChange,
  afterWaterChange,
  afterWaterChanges,
  changesToReach,
  fractionToReach,
  volumesToReach,
} from './dilution/water-change.ts';
