import { median } from 'd3-array';
import { formWithRatio } from '../entry/entry.rules.ts';
import { type Quantity, sayDifference, unitName } from '../quantities/quantities.ts';

/** One water by two kits or methods; canonical, with the standard uncertainty of their difference. */
export interface PairedTest {
  old: number;
  value: number;
  u: number;
}

/** Fewer pairs than this decide nothing, since one slip looks the same. */
const fewestPairs = 3;
/** The waters must differ by this much before a constant difference can be told from a constant ratio; own choice. */
const spreadToTell = 1.5;
/** How much better the one must fit than the other to be named; own choice. */
const clearRatio = 2;

/**
 * How two kits or methods differ, by the same waters tested with both: as two chemical forms do (nitrate as N and as NO3),
 * by a constant (offset, blank), by a constant ratio, or not beyond chance.
 */
export function differenceWords(quantity: Quantity, pairs: readonly PairedTest[]): string {
  if (pairs.length < fewestPairs)
    return `${pairs.length === 0 ? 'Not compared yet.' : 'Too few pairs to tell.'} Test one sample three times with each.`;
  const ratio = median(pairs.map(({ old, value }) => value / old)) ?? Number.NaN;
  const form = formWithRatio(quantity, Math.max(ratio, 1 / ratio));
  if (form !== null) {
    const [other, own] = [unitName(quantity.code, form), unitName(quantity.code, quantity.canonicalUnit)];
    return `They differ by the factor ${rounded(Math.max(ratio, 1 / ratio))}: it looks like ${other} versus ${own}. Check which of the two each kit shows.`;
  }
  const apart = pairs.map(({ old, value }) => value - old);
  const shift = median(apart) ?? Number.NaN;
  const noise = Math.max(...pairs.map(({ u }) => u));
  if (Math.abs(shift) <= (2 * noise) / Math.sqrt(pairs.length))
    return `They agree as far as ${pairs.length} pairs can tell.`;
  return kindOfDifference(quantity, pairs, { ratio, shift });
}

function kindOfDifference(
  quantity: Quantity,
  pairs: readonly PairedTest[],
  { ratio, shift }: { ratio: number; shift: number },
): string {
  const olds = pairs.map(({ old }) => old);
  const at = median(olds) ?? Number.NaN;
  const size = `${sayDifference(quantity, Math.abs(shift), at)} ${shift < 0 ? 'lower' : 'higher'}`;
  const share = `${rounded(Math.abs(ratio - 1) * 100)} %`;
  const byOffset = misfit(pairs, ({ old }) => old + shift);
  const byRatio = misfit(pairs, ({ old }) => old * ratio);
  const canTell = Math.max(...olds) / Math.min(...olds) >= spreadToTell;
  if (canTell && byRatio > clearRatio * byOffset)
    return `The new one reads ${size}, the same at every level: an offset, a blank not taken, or old water in the cuvette.`;
  if (canTell && byOffset > clearRatio * byRatio)
    return `The new one reads ${share} ${ratio < 1 ? 'lower' : 'higher'}, in proportion to the level: its reagent or its scale.`;
  return `The new one reads ${size} (${share}). Whether by a constant or in proportion, waters of one level cannot tell.`;
}

/** Mean absolute misfit of what is expected, in the readings' unit. */
function misfit(pairs: readonly PairedTest[], expected: (pair: PairedTest) => number): number {
  return pairs.reduce((sum, pair) => sum + Math.abs(pair.value - expected(pair)), 0) / pairs.length;
}

const rounded = (value: number) => Number(value.toPrecision(2));
