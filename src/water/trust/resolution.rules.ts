import { type Quantity, say, sayBand } from '../quantities/quantities.ts';

interface Read {
  value: number;
  below: boolean;
  uncertainty: number;
}

/** Two standard uncertainties either way hold the true value about 19 times in 20. */
const coverage = 2;

/** Where the true value may lie by one reading, canonical; never beyond what is possible. */
export function intervalOf(
  quantity: Quantity,
  { value, below, uncertainty }: Read,
): { low: number; high: number } {
  const half = coverage * uncertainty;
  const low = below ? quantity.possibleLow : Math.max(quantity.possibleLow, value - half);
  return { low, high: Math.min(quantity.possibleHigh, value + (below ? 0 : half)) };
}

/**
 * What to say where a test is too coarse for what is kept: the true value may lie below the band as well as above it.
 * Null where it can tell the one from the other, or nothing is kept.
 */
export function cannotTell(
  quantity: Quantity,
  read: Read,
  band: { low: number | null; high: number | null },
): string | null {
  const { low, high } = intervalOf(quantity, read);
  if (band.low === null || band.high === null || low >= band.low || high <= band.high) return null;
  const kept = sayBand(quantity, band.low, band.high) ?? '';
  return `This test cannot tell low from high here: ${say(quantity, read.value, read.below)} may be anything from ${sayBand(quantity, low, high) ?? ''}, and ${kept} is kept. Take the mean of three tests, or wait for the trend; neither add nor remove anything on it.`;
}
