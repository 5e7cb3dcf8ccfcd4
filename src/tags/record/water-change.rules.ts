import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { convert } from '../../science/units.ts';
import { unitName } from '../../water/quantities/quantities.ts';
import type { RecordedWater, TagRecord } from './record.ts';

/** Differences that matter to a piece that comes from one water into another, each in its unit (common practice). */
export const NOTICEABLE = {
  alkalinity: { unit: 'dKH', step: 1 },
  salinity: { unit: 'PSU', step: 1.3 },
  temperature: { unit: 'degC', step: 1 },
} as const;

/** Of what has no step of its own: a last test this part away from the middle one is told first (own choice). */
const OTHERS = 0.25;

/** A figure of a record in the unit asked for; null where it cannot be converted. */
export function inUnit({ quantity, unit }: RecordedWater, value: number, wanted: string): number | null {
  try {
    return convert(quantity, value, unit, wanted);
  } catch {
    return null;
  }
}

const stepOf = (code: string): { unit: string; step: number } | undefined =>
  NOTICEABLE[code as keyof typeof NOTICEABLE];

/** Whether a figure is so far from the middle of the tests that it is other water to a piece. */
function isFar(water: RecordedWater, value: number): boolean {
  const own = stepOf(water.quantity);
  if (own === undefined) return Math.abs(value - water.median) > OTHERS * Math.abs(water.median);
  const [there, usual] = [inUnit(water, value, own.unit), inUnit(water, water.median, own.unit)];
  return there !== null && usual !== null && Math.abs(there - usual) > own.step;
}

/** Whether the last test found other water than most of the tests before it; not told where some saw nothing. */
export const changedLast = (water: RecordedWater): water is RecordedWater & { latest: number } =>
  water.latest !== undefined && water.belowDetection === 0 && isFar(water, water.latest);

/** "11.8 dKH": a figure of a record with its unit. */
export const figureWords = (water: RecordedWater, value: number): string =>
  `${numberWords(value, water.decimals)} ${unitName(water.quantity, water.unit)}`;

/**
 * What a buyer has to know of the water before anything else, one sentence each: that it was other water at the last test
 * than before, or that a later test which differs waits for a repeat. Of quantities that matter on arrival.
 */
export function waterChanges({ water }: TagRecord): string[] {
  return water
    .filter(({ quantity }) => stepOf(quantity) !== undefined)
    .flatMap((one) => {
      const name = one.name.toLowerCase();
      const on = one.to === undefined ? '' : ` on ${dateWords(one.to, 'UTC')}`;
      const changed = changedLast(one)
        ? [
            `Its water changed before the tag was issued: ${name} was ${figureWords(one, one.latest)} at the last test${on}, and mostly ${figureWords(one, one.median)} in the 30 days.`,
          ]
        : [];
      const waits =
        one.waiting !== undefined && isFar(one, one.waiting)
          ? [
              `A later test of ${name} read ${figureWords(one, one.waiting)} and still waited for a repeat when the tag was issued.`,
            ]
          : [];
      return [...changed, ...waits];
    });
}
