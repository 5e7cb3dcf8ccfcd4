import { convertDifference } from '../../science/units/convert.ts';

/**
 * Standard deviation of single readings about a steady level over a day, canonical. Alkalinity: the swing of the
 * simulation study (DEVELOPERS.md). pH: a healthy tank read 7.78 to 8.11 over a day (article), a third of that as its
 * deviation. The rest own choice.
 */
const known: Readonly<Record<string, number>> = {
  alkalinity: convertDifference('alkalinity', 0.12, 'dKH', 'meq/L'),
  calcium: 3,
  magnesium: 8,
  salinity: 0.1,
  temperature: 0.25,
  ph: 0.1,
  oxygen: 0.5,
};

/** What has no figure of its own swings by this part of its level, and by this part of its usual range at least; own choice. */
const [shareOfLevel, shareOfRange] = [0.03, 0.002];

/** How far single readings of a quantity usually swing about a steady level; standard deviation, canonical. */
export function usualSwing(
  code: string,
  level: number,
  { plausibleLow, plausibleHigh }: { plausibleLow: number; plausibleHigh: number },
): number {
  return (
    known[code] ?? Math.max(shareOfLevel * Math.abs(level), shareOfRange * (plausibleHigh - plausibleLow))
  );
}
