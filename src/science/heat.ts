import { sum } from 'd3-array';
import { inRange } from './numeric/range.ts';

/** Days that count: twelve weeks, the day itself included. */
export const HEAT_WINDOW_DAYS = 84;

/** A HotSpot below this does not count, from here on it counts in full. */
export const COUNTING_HOTSPOT_DEGC = 1;

/** The heat that a system has borne up to a day. */
export interface HeatStress {
  /** Degrees above the warmest usual month, never below 0; null on a day without a temperature. */
  hotspotDegC: number | null;
  /** Degree heating weeks, degC-weeks, over the window. With days missing it is at least this. */
  degreeHeatingWeeks: number;
  /** Days without a temperature in the window, as far back as the series goes. */
  missingDays: number;
}

/** HotSpot in degC of a daily mean temperature (0 to 45 degC): the part above the warmest usual monthly mean, or 0. */
export function hotspotDegC(temperatureDegC: number, warmestMonthDegC: number): number {
  inRange(temperatureDegC, 0, 45, 'temperature', 'degC');
  inRange(warmestMonthDegC, 15, 35, 'warmest monthly mean', 'degC');
  return Math.max(0, temperatureDegC - warmestMonthDegC);
}

/**
 * HotSpot and degree heating weeks for each day of a series.
 *
 * @param dailyDegC mean temperature of each consecutive day, 0 to 45 degC; null where there is none
 * @param warmestMonthDegC mean of the warmest usual month, 15 to 35 degC; on a reef the climatology, in a system
 * what it has lived at
 * Error: that of the temperatures; 0.3 degC of a probe is 3.6 degC-weeks over a full window.
 * Source: Skirving et al. 2020, Remote Sensing 12, 3856: sum over 84 days of HotSpots of at least 1, over 7.
 */
export function heatStressByDay(
  dailyDegC: readonly (number | null)[],
  warmestMonthDegC: number,
): HeatStress[] {
  const hotspots = dailyDegC.map((degC) => (degC === null ? null : hotspotDegC(degC, warmestMonthDegC)));
  return hotspots.map((today, day) => {
    const window = hotspots.slice(Math.max(0, day + 1 - HEAT_WINDOW_DAYS), day + 1);
    return {
      hotspotDegC: today,
      degreeHeatingWeeks: sum(window, counted) / 7,
      missingDays: window.filter((hotspot) => hotspot === null).length,
    };
  });
}

/** What a HotSpot adds; a difference such as 29.1 - 28.1 may miss 1 by rounding. */
function counted(hotspot: number | null): number {
  return hotspot !== null && hotspot >= COUNTING_HOTSPOT_DEGC - 1e-9 ? hotspot : 0;
}
