import { hullOf, isWithinHull, type LightField, lightField, nextReadings } from '../../science/kriging.ts';
import { underwaterParUmolM2S } from '../../science/light.ts';
import type { Cell } from '../racks/slots.rules.ts';

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

/** How far apart columns and rows are: in mm, or 1 and 1 where nobody entered the size of a slot. */
export interface Pitch {
  x: number;
  y: number;
}

export const pitchOf = (rack: { slotWidthMm: number | null; slotDepthMm: number | null }): Pitch =>
  rack.slotWidthMm === null || rack.slotDepthMm === null
    ? { x: 1, y: 1 }
    : { x: rack.slotWidthMm, y: rack.slotDepthMm };

const placeOf = ({ row, column }: Cell, pitch: Pitch) => ({ x: column * pitch.x, y: row * pitch.y });

type Reading = Place & { par: number };

function fieldOf(readings: readonly Reading[], pitch: Pitch): LightField {
  const sites = readings.map((reading) => ({ ...placeOf(reading, pitch), value: reading.par }));
  return lightField(sites, READING_UNCERTAINTY);
}

/** Light at every slot of a rack from readings at some of them, by kriging, with its standard error. */
export function spreadLight(
  readings: readonly Reading[],
  slots: readonly Place[],
  pitch: Pitch,
): SpreadLight[] {
  const field = fieldOf(readings, pitch);
  const measured = new Map(readings.map((reading) => [reading.slotId, reading.par]));
  return slots.map(({ slotId, row, column }) => {
    const { value, sd } = field.at(placeOf({ row, column }, pitch));
    const found = measured.get(slotId);
    const light =
      found === undefined
        ? { par: value, error: sd ?? value }
        : { par: found, error: READING_UNCERTAINTY * found };
    return { slotId, row, column, ...light, measured: found !== undefined };
  });
}

/** How well readings foretell each other: root mean square in umol/(m2 s), and what the estimate rests on. */
export interface SurveyProof {
  leaveOneOut: number | null;
  basis: LightField['basis'];
}

export function proofOf(readings: readonly Reading[], pitch: Pitch): SurveyProof {
  if (readings.length === 0) return { leaveOneOut: null, basis: 'assumed' };
  const { leaveOneOut, basis } = fieldOf(readings, pitch);
  return { leaveOneOut: leaveOneOut?.rmse ?? null, basis };
}

/** How many slots are named to be measured next. */
const NEXT = 5;

/** The slots where a further reading would make the whole rack's light surest, best first. */
export function measureNext(readings: readonly Reading[], slots: readonly Place[], pitch: Pitch): string[] {
  const sites = readings.map((reading) => ({ ...placeOf(reading, pitch), value: reading.par }));
  const places = slots.map((slot) => placeOf(slot, pitch));
  const count = Math.min(NEXT, slots.length - readings.length);
  return nextReadings(sites, places, Math.max(0, count)).flatMap(({ index }) => slots[index]?.slotId ?? []);
}

/** Past this part of the light itself, a standard error makes an estimate too vague to rely on (own choice). */
const VAGUE = 0.25;

/**
 * The slots whose light is extrapolated: outside the hull of the measured ones, or estimated with a standard error
 * above a quarter of itself.
 */
export function beyondReadings<T extends Cell & { id: string; light: SpreadPoint | null }>(
  slots: readonly T[],
): Set<string> {
  const hull = hullOf(
    slots.filter((slot) => slot.light?.measured).map(({ row, column }) => ({ x: column, y: row })),
  );
  const beyond = slots.filter(
    ({ light, row, column }) =>
      light !== null &&
      !light.measured &&
      (light.error > VAGUE * light.par || !isWithinHull({ x: column, y: row }, hull)),
  );
  return new Set(beyond.map((slot) => slot.id));
}

interface SpreadPoint {
  par: number;
  error: number;
  measured: boolean;
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
