import { wholeNumber } from '../numeric/range.ts';
import { type SlopeOptions, type SlopeReading, trackSlope } from './slope.ts';

/** Factors by which the noises are tried. */
const FACTORS = [0.25, 0.35, 0.5, 0.71, 1, 1.41, 2, 2.83, 4];
const FEWEST_READINGS = 30;

/** Noises learnt from a system's own readings. */
export interface FittedNoise {
  options: SlopeOptions;
  /** How much likelier (natural logarithm) the readings are under them than under the given options. */
  gain: number;
}

/**
 * The noises under which a system's own readings are likeliest: the short swing, and level and slope noise together,
 * each tried from a quarter to four times of `start`. Needs at least 30 readings; about 60 fix the swing to a fifth.
 *
 * Likelihood by prediction errors: Schweppe 1965 (from memory), surprises limited as in the filter.
 */
export function fitSlopeNoise(readings: readonly SlopeReading[], start: SlopeOptions): FittedNoise {
  wholeNumber(readings.length, FEWEST_READINGS, Number.MAX_SAFE_INTEGER, 'number of readings');
  const end = Math.max(...readings.map((r) => r.day));
  const score = (options: SlopeOptions) => trackSlope(readings, end, options).logLikelihood;
  const base = score(start);
  let best: FittedNoise = { options: start, gain: 0 };
  for (const drift of FACTORS) {
    for (const swing of FACTORS) {
      const options = scaled(start, drift, swing);
      const gain = score(options) - base;
      if (gain > best.gain) best = { options, gain };
    }
  }
  return best;
}

function scaled(start: SlopeOptions, drift: number, swing: number): SlopeOptions {
  return {
    ...start,
    levelNoise: start.levelNoise * drift,
    slopeNoise: start.slopeNoise * drift,
    swing: start.swing * swing,
  };
}
