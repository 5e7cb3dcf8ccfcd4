import { lightField } from '../science/kriging.ts';
import { underwaterParUmolM2S } from '../science/light.ts';
import type { Cell } from './slots.rules.ts';

/** Standard uncertainty of one reading relative to itself: the meter and how it was held (own choice). */
export const READING_UNCERTAINTY = 0.03;

/** How the meter shows light. `factorInMeter`: it already applies the factor of its sensor. */
export interface Meter {
  immersionFactor: number;
  factorInMeter: boolean;
}

/** Light under water from what a meter shows; the factor is applied once, here or in the meter. umol/(m2 s) */
export function correctedPar(raw: number, { immersionFactor, factorInMeter }: Meter): number {
  return factorInMeter ? raw : underwaterParUmolM2S(raw, immersionFactor);
}

/** Light at one slot as a survey gives it. */
export interface SpreadLight extends Cell {
  slotId: string;
  par: number;
  error: number;
  measured: boolean;
}

interface Place extends Cell {
  slotId: string;
}

/**
 * Light at every slot of a rack from readings at some of them, by kriging, with its standard error. Places count in
 * slots, so rows and columns are taken as equally far apart.
 */
export function spreadLight(
  readings: readonly (Place & { par: number })[],
  slots: readonly Place[],
): SpreadLight[] {
  const sites = readings.map(({ row, column, par }) => ({ x: column, y: row, value: par }));
  const field = lightField(sites, READING_UNCERTAINTY);
  const measured = new Map(readings.map((reading) => [reading.slotId, reading.par]));
  return slots.map(({ slotId, row, column }) => {
    const { value, sd } = field.at({ x: column, y: row });
    const found = measured.get(slotId);
    const light =
      found === undefined
        ? { par: value, error: sd ?? value }
        : { par: found, error: READING_UNCERTAINTY * found };
    return { slotId, row, column, ...light, measured: found !== undefined };
  });
}

/** How new light compares with an earlier survey scaled to the same setting, slot by slot: the middle of the ratios. */
export function medianRatio(pairs: readonly { before: number; now: number }[]): number | null {
  const ratios = pairs.flatMap(({ before, now }) => (before > 0 ? [now / before] : [])).sort((a, b) => a - b);
  if (ratios.length === 0) return null;
  const middle = ratios.length / 2;
  const [low, high] = [ratios[Math.ceil(middle) - 1] ?? 0, ratios[Math.floor(middle)] ?? 0];
  return (low + high) / 2;
}

/** Within this of the factor (or its inverse) a change looks like the factor and not like the lamps. */
const LOOKS_LIKE = 0.04;

/** Doubt whether the immersion factor was applied twice or not at all, in words; null where nothing looks like it. */
export function factorDoubt(ratio: number | null, immersionFactor: number): string | null {
  if (ratio === null || immersionFactor < 1.04) return null;
  const near = (wanted: number) => Math.abs(ratio / wanted - 1) < LOOKS_LIKE;
  const said = `${Math.round(Math.abs(ratio - 1) * 100)} %`;
  if (near(immersionFactor))
    return `The light is ${said} more than the survey before gives for this setting, about the immersion factor itself. If the lamps are the same, look whether the factor was applied twice.`;
  if (near(1 / immersionFactor))
    return `The light is ${said} less than the survey before gives for this setting, about what leaving out the immersion factor does. If the lamps are the same, look whether it was applied at all.`;
  return null;
}
