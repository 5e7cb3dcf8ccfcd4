/** Trends and steps in series at irregular times, with ties and values that are only bounds. */
export { type MannKendall, mannKendall } from './trend/mann-kendall.ts';
export type { Point } from './trend/points.ts';
export { detectStep, type Step, shiftBetween } from './trend/step.ts';
export { type TheilSen, theilSen } from './trend/theil-sen.ts';
