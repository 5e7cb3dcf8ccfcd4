/** Water changes, mixtures and the levels they lead to. */

export { salinityAfterExchange, salinityExchangeL } from './dilution/salinity-exchange.ts';
export { fractionForCeiling } from './dilution/steady-state.ts';
export { afterWaterChange, afterWaterChanges, changesToReach } from './dilution/water-change.ts';
