import { levelWords } from '../../platform/units/everyday.ts';
import { safeRange } from '../../water/acute/acute-states.rules.ts';
import type { SystemNumbers } from './system-numbers.rules.ts';

const tooWarm = safeRange('temperature').high;
const tooThin = safeRange('salinity').low;

/**
 * What heat and low salinity together mean for the time there is: what is known of each alone is too long, and how much
 * shorter the two make it nobody measured for the corals kept: that it is hours, and a day with nitrate, is common practice. Nothing where one of them is in order or not known.
 */
export function heatAndThinWater({ readings: { temperature, salinity } }: SystemNumbers): string[] {
  if (temperature === undefined || salinity === undefined) return [];
  if (temperature.value <= tooWarm || salinity.value >= tooThin) return [];
  const [warm, thin] = [levelWords('temperature', temperature.value), levelWords('salinity', salinity.value)];
  return [
    `Two things are wrong at once: ${warm} and ${thin}. Together they kill sooner than either alone, within a day where nitrate is high too. Count on hours, not days: correct both now, each at the rate said for it.`,
  ];
}
