/** Control charts, check readings, and whether a kit reads wrong. */

export { ewmaChart } from './control/ewma.ts';

export * from './control/kit.ts';
export * from './control/kit-evidence.ts';
export { type WestgardRule, westgard } from './control/westgard.ts';
