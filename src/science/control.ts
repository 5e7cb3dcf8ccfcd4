/** Control charts, check readings, and whether a kit reads wrong. */
export { type CusumPoint, cusumChart, cusumRunLength } from './control/cusum.ts';
export { type EwmaOptions, type EwmaPoint, ewmaChart } from './control/ewma.ts';
export { type IndividualsChart, individualsChart } from './control/individuals.ts';
export * from './control/kit.ts';
export { type Check, type WestgardRule, type WestgardVerdict, westgard } from './control/westgard.ts';
export { varianceCusum } from './filter/swing.ts';
