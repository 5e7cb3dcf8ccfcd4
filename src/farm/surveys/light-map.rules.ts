import { hullOf, isWithinHull, type LightField, lightField, nextReadings } from '../../science/kriging.ts';
import type { Cell, RackSlot } from '../racks/slots.rules.ts';

/** Standard uncertainty of one reading relative to itself: the meter and how it was held (own choice). */
export const READING_UNCERTAINTY = 0.03;

/** Light at one slot as a survey gives it, umol/(m2 s); `error` is its standard error. */
export interface SurveyedSlot extends RackSlot {
  par: number;
  error: number;
  measured: boolean;
}

/** Distance between columns (x) and rows (y): in mm, or 1 and 1 where nobody entered the size of a slot. */
export interface SlotPitch {
  x: number;
  y: number;
}

export const slotPitch = (rack: { slotWidthMm: number | null; slotDepthMm: number | null }): SlotPitch =>
  rack.slotWidthMm === null || rack.slotDepthMm === null
    ? { x: 1, y: 1 }
    : { x: rack.slotWidthMm, y: rack.slotDepthMm };

const positionOf = ({ row, column }: Cell, pitch: SlotPitch) => ({ x: column * pitch.x, y: row * pitch.y });

/** A corrected reading, umol/(m2 s). */
type Reading = RackSlot & { par: number };

function fieldOf(readings: readonly Reading[], pitch: SlotPitch): LightField {
  const sites = readings.map((reading) => ({ ...positionOf(reading, pitch), value: reading.par }));
  return lightField(sites, READING_UNCERTAINTY);
}

/**
 * Light at every slot of a rack from readings at some of them, by kriging. A slot that was read keeps its reading.
 */
export function krigeLight(
  readings: readonly Reading[],
  slots: readonly RackSlot[],
  pitch: SlotPitch,
): SurveyedSlot[] {
  const field = fieldOf(readings, pitch);
  const measured = new Map(readings.map((reading) => [reading.slotId, reading.par]));
  return slots.map(({ slotId, row, column }) => {
    const { value, sd } = field.at(positionOf({ row, column }, pitch));
    const reading = measured.get(slotId);
    const light =
      reading === undefined
        ? { par: value, error: sd ?? value }
        : { par: reading, error: READING_UNCERTAINTY * reading };
    return { slotId, row, column, ...light, measured: reading !== undefined };
  });
}

/** How exact a survey's estimates are, and how that is known. */
export interface SurveyAccuracy {
  /** Each reading estimated from the others: root mean square error, umol/(m2 s); null with too few readings. */
  leaveOneOut: number | null;
  basis: LightField['basis'];
}

export function surveyAccuracy(readings: readonly Reading[], pitch: SlotPitch): SurveyAccuracy {
  if (readings.length === 0) return { leaveOneOut: null, basis: 'assumed' };
  const { leaveOneOut, basis } = fieldOf(readings, pitch);
  return { leaveOneOut: leaveOneOut?.rmse ?? null, basis };
}

/** How many slots are suggested to be measured next (own choice: a person reads them off while walking to the rack). */
const SUGGESTED = 5;

/** The ids of the slots where another reading would lower the errors of the whole rack most, best first. */
export function slotsToMeasure(
  readings: readonly Reading[],
  slots: readonly RackSlot[],
  pitch: SlotPitch,
): string[] {
  const sites = readings.map((reading) => ({ ...positionOf(reading, pitch), value: reading.par }));
  const places = slots.map((slot) => positionOf(slot, pitch));
  const count = Math.min(SUGGESTED, slots.length - readings.length);
  return nextReadings(sites, places, Math.max(0, count)).flatMap(({ index }) => slots[index]?.slotId ?? []);
}

/** An estimate with a standard error above this part of itself counts as extrapolated (own choice). */
const LARGEST_ERROR = 0.25;

/** Light at a slot, with its standard error. */
interface SlotEstimate {
  par: number;
  error: number;
  measured: boolean;
}

/**
 * The ids of slots whose light is extrapolated: outside the hull of the measured ones, or estimated with a standard error
 * above a quarter of itself.
 */
export function extrapolatedSlots<T extends Cell & { id: string; light: SlotEstimate | null }>(
  slots: readonly T[],
): Set<string> {
  const hull = hullOf(
    slots.filter((slot) => slot.light?.measured).map(({ row, column }) => ({ x: column, y: row })),
  );
  const extrapolated = slots.filter(
    ({ light, row, column }) =>
      light !== null &&
      !light.measured &&
      (light.error > LARGEST_ERROR * light.par || !isWithinHull({ x: column, y: row }, hull)),
  );
  return new Set(extrapolated.map((slot) => slot.id));
}
