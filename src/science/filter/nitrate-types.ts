/**
 * One nitrate reading. All values of one history share a unit (the service uses mg/L as NO3); times are days
 * from any fixed start.
 */
export interface NitrateReading {
  day: number;
  /** The reading, or the bound when `bound` is set. */
  value: number;
  /** Relative standard uncertainty, e.g. 0.1 for 10 %. */
  relativeSd: number;
  /** Step between neighbouring fields of a colour chart; it adds step^2/12 to the variance. */
  step?: number;
  /** Set when the reading only says "below" (under detection) or "above" (beyond the chart) its value. */
  bound?: 'below' | 'above';
  /** True when a repeat agreed: it is cut later. */
  confirmed?: boolean;
  /** True when made with another kit than the system's usual one, so that its bias is another. */
  otherKit?: boolean;
}

/** A logged water change: the level goes from N to N (1 - fraction) + makeUp fraction. */
export interface WaterChange {
  day: number;
  /** Part of the water exchanged, 0 to 1. */
  fraction: number;
  /** Level in the new water. */
  makeUp: number;
  /** Standard uncertainty of the fraction (0 when left out). */
  fractionSd?: number;
  /** Made for an occasion of its own, such as a correction: it moves the level, but adds nothing to the habit. */
  once?: boolean;
}

/** A logged dose that raises the level at once by `rise`. */
export interface Addition {
  day: number;
  rise: number;
}

export interface NitrateHistory {
  readings: readonly NitrateReading[];
  changes: readonly WaterChange[];
  additions?: readonly Addition[];
  /** Days on which a new kit was opened. */
  kitOpenings?: readonly number[];
}

/** Constants of the nitrate filter; the defaults are those tuned by simulation. */
export interface NitrateOptions {
  /** Noise of the level, as a part of it, per root day. */
  levelNoise: number;
  /** Noise of net production, as a part of the own level a day, per root day. */
  productionNoise: number;
  /** Standard deviation of kits' bias at opening. */
  kitSd: number;
  /** Readings further off than this many SD are pulled in; confirmed ones at `confirmedCut`. */
  cut: number;
  confirmedCut: number;
  /** After this many cut readings running on one side the level is taken to have jumped. */
  jumpAfter: number;
  /** Memory of the habit of changes and additions, days; of what was done lately; how far the two may part, times. */
  habitMemory: number;
  lateHabitMemory: number;
  habitSlack: number;
  /** Own level: mean of the level at least `ownLag` days old, with a memory of `ownMemory` days. */
  ownLag: number;
  ownMemory: number;
  /** Level below which noises stop shrinking with it, in the readings' unit (1 suits mg/L as NO3). */
  smallLevel: number;
  /** First guess of net production: 0 +- this part of the first level a day. */
  firstProductionSd: number;
}

export const NITRATE_DEFAULTS: NitrateOptions = {
  levelNoise: 0.015,
  productionNoise: 0.0015,
  kitSd: 0.1,
  cut: 2.2,
  confirmedCut: 4,
  jumpAfter: 3,
  habitMemory: 100,
  lateHabitMemory: 20,
  habitSlack: 1.25,
  ownLag: 28,
  ownMemory: 150,
  smallLevel: 1,
  firstProductionSd: 0.04,
};

/** What is known of a system's nitrate at one time. */
export interface NitrateState {
  day: number;
  /** Days since the first reading; rules wait for about 60. */
  historyDays: number;
  level: number;
  levelSd: number;
  /** Net production a day: what the level would rise without changes and additions. */
  production: number;
  productionSd: number;
  levelProductionCov: number;
  /** Relative bias of the kit in use (0.05: reads 5 % high). */
  kitBias: number;
  kitBiasSd: number;
  habit: Habit;
  /** Means at least 28 days old; null before. */
  own: OwnLevels | null;
}

/** What the farm lately did to the water, as means a day. */
export interface Habit {
  /** Mean logged fraction changed a day. */
  fraction: number;
  /** Rate of exchange a day, mean of -ln(1 - fraction): what a steady exchange of equal effect would be. */
  exchange: number;
  /** Level in the make-up water, weighted by fraction. */
  makeUp: number;
  /** Rise by logged additions a day. */
  addition: number;
}

export interface OwnLevels {
  level: number;
  production: number;
  exchange: number;
}

/** The state after one reading, and how the reading stood to what was expected. */
export interface NitrateStep extends NitrateState {
  reading: NitrateReading;
  /** Reading minus expected over its standard deviation. */
  surprise: number;
  /** True when the reading was pulled in. */
  cut: boolean;
  /** True when a run of cut readings made the filter take the level to have jumped. */
  jumped: boolean;
}
