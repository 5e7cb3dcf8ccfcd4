import { inRange } from '../numeric/range.ts';

/** umol/(m2 s) kept for an hour, in mol/m2. */
export const MOL_PER_UMOL_HOUR = 3600 / 1e6;

/**
 * Daily light integral in mol/m2/day of light that peaks at `peakParUmolM2S` and lasts as long as
 * `equivalentHours` hours of the peak would (0 to 24). Exact.
 * Source: definition, DLI = PPFD x seconds / 1e6.
 */
export function dailyLightMolM2(peakParUmolM2S: number, equivalentHours: number): number {
  inRange(peakParUmolM2S, 0, 5000, 'light', 'umol/m2/s');
  inRange(equivalentHours, 0, 24, 'photoperiod', 'h');
  return peakParUmolM2S * equivalentHours * MOL_PER_UMOL_HOUR;
}
