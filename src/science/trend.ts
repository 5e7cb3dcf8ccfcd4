/** Trends and steps in series at irregular times, with ties and values that are only bounds. */
export { mannKendall } from './trend/mann-kendall.ts';
export { newestRun, type Run } from './trend/newest-run.ts';
export type { Point } from './trend/points.ts';

export { theilSen } from './trend/theil-sen.ts';
