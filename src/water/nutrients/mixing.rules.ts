import { type LevelJump, levelJumpOf } from '../demand/supply.rules.ts';
import { caps } from '../dosing/substances.rules.ts';
import type { WaterRecord } from '../record/water-record.ts';

/** What a water change moves besides the nutrient, where it is known here and in the new water; canonical units. */
const moved = ['alkalinity', 'salinity'] as const;
type Moved = (typeof moved)[number];
export type MixingLevels = readonly { code: Moved; level: number; makeUp: number }[];

/** The last reading of each, and what the make-up water holds. */
export function mixingLevels({ readings, kept }: Pick<WaterRecord, 'readings' | 'kept'>): MixingLevels {
  return moved.flatMap((code) => {
    const level = readings.get(code)?.at(-1)?.value;
    const makeUp = kept.get(code)?.makeUp ?? null;
    return level === undefined || makeUp === null ? [] : [{ code, level, makeUp }];
  });
}

/** What a change of this size does to them at once, where that is more than may happen in a day. */
export function levelJumpsOf(
  levels: MixingLevels,
  fraction: number,
): (MixingLevels[number] & { jump: LevelJump })[] {
  return levels.flatMap((one) => {
    const jump = levelJumpOf(one.level, one.makeUp, fraction, caps[one.code].usual);
    return jump === null ? [] : [{ ...one, jump }];
  });
}

/** The largest change, as a part of the water, that moves them no further than may happen in a day. */
export const largestSafeChange = (levels: MixingLevels): number =>
  levels.reduce(
    (least, { code, level, makeUp }) =>
      makeUp === level ? least : Math.min(least, caps[code].usual / Math.abs(makeUp - level)),
    1,
  );
