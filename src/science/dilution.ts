/** Water changes, mixtures and the levels they lead to. */

export {
  afterMixing,
  largestExchange,
  salinityAfterEvaporation,
  salinityAfterFreshWater,
  salinityAfterOverflow,
} from './dilution/mixing.ts';
export { salinityAfterExchange, salinityExchangeL } from './dilution/salinity-exchange.ts';
export { fractionForCeiling } from './dilution/steady-state.ts';
export { afterWaterChange, afterWaterChanges, changesToReach } from './dilution/water-change.ts';
