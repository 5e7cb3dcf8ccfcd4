import { type Growth, growthRate } from '../../science/growth.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import type { Rate } from './forecast.rules.ts';
import { LEAST_DAYS, type LotGrowth, REGROWTH_DAYS } from './growth.rules.ts';

/** The area of a piece as one photograph shows it, mm2: the lot's area shared out among its pieces. */
export interface SeenArea {
  at: Date;
  mm2: number;
  /** Whether height above the rack is taken out. */
  cameraKnown: boolean;
}

/** Standard uncertainty of one area against others of the same lot, as a part of it (own choice: what height and lens add is much the same each time). */
const AREA_SD = 0.06;
/** From so many photographs on growth is told (own choice). */
const LEAST_SEEN = 4;

/**
 * How the area of a lot's pieces grows by its photographs, or why that is not told. Only photographs that are alike count:
 * all with height taken out, or all without.
 * @param cutAt when it was cut; null where it never was here
 */
export function areaGrowth(all: readonly SeenArea[], cutAt: Date | null): LotGrowth {
  const healed = all.filter(({ at }) => cutAt === null || daysBetween(cutAt, at) >= REGROWTH_DAYS);
  const known = healed.filter(({ cameraKnown }) => cameraKnown);
  const used = 2 * known.length >= healed.length ? known : healed.filter(({ cameraKnown }) => !cameraKnown);
  const [first, last] = [used[0], used.at(-1)];
  if (first === undefined || last === undefined || used.length < LEAST_SEEN)
    return {
      told: false,
      why: `Too few photographs to say: ${LEAST_SEEN} are needed since its pieces last changed.`,
    };
  const days = daysBetween(first.at, last.at);
  if (days < LEAST_DAYS)
    return {
      told: false,
      why: `Its photographs span too few days to say: ${LEAST_DAYS} are needed since its pieces last changed.`,
    };
  const measurements = used.map(({ at, mm2 }) => ({ day: daysBetween(first.at, at), size: mm2 }));
  return { told: true, growth: growthRate(measurements, AREA_SD), days };
}

/** A rate of area as one of length: area grows as the square of length while the shape stays. */
export const lengthRate = ({ perDay, sd }: Rate): Rate => ({ perDay: perDay / 2, sd: sd / 2 });

/** A piece's length is thought to be that of a disc of its area, give or take this part (own choice: longer, where it is not round). */
const DISC_SD = 0.15;

/** The length of a piece by its area: ln of it and its standard error; null where it was not photographed. */
export function discLength(
  all: readonly SeenArea[],
): { at: Date; mm: number; level: number; sd: number } | null {
  const last = all.at(-1);
  if (last === undefined) return null;
  const mm = 2 * Math.sqrt(last.mm2 / Math.PI);
  return { at: last.at, mm, level: Math.log(mm), sd: Math.hypot(DISC_SD, AREA_SD / 2) };
}

/**
 * The growth of length that photographs tell, from a size that was measured by hand: the rate is theirs, the level the hand's.
 * @param level ln of that size, and its standard error
 */
export function growthFrom(
  { growth }: LotGrowth & { told: true },
  level: { value: number; sd: number },
): Growth {
  const rate = lengthRate(growth);
  return {
    ...growth,
    ...rate,
    ...{ low: growth.low / 2, high: growth.high / 2 },
    doublingDays: growth.doublingDays === null ? null : 2 * growth.doublingDays,
    fit: { ...growth.fit, ...rate, level: level.value, levelSd: level.sd, cov: 0 },
  };
}
