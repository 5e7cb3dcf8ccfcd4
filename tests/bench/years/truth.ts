import { type Farm, type System, timeOf } from './farm/farm.ts';
import { signOf } from './farm/stock.ts';
import type { TroubleKind } from './farm/troubles.ts';
import { dkh } from './farm/water.ts';
import type { Code } from './hands/book.ts';

/** Bands as the farm keeps them, in the units of the water. */
export const bands: Readonly<Record<Code, readonly [low: number, high: number]>> = {
  alkalinity: [7.3 * dkh, 9.5 * dkh],
  calcium: [380, 480],
  nitrate: [1, 20],
  phosphate: [0.02, 0.2],
  salinity: [34, 36],
  temperature: [24, 27],
  ph: [7.75, 8.45],
};

/** Half of what a test errs by: a level so near its edge counts as out. */
const margins: Readonly<Record<Code, number>> = {
  ...{
    alkalinity: 0.15 * dkh,
    calcium: 8,
    nitrate: 1.5,
    phosphate: 0.02,
    salinity: 0.2,
    temperature: 0.2,
    ph: 0.04,
  },
};

/** Which troubles move which quantity. */
const moves: Readonly<Record<Code, readonly TroubleKind[]>> = {
  alkalinity: [
    ...(['doser stuck on', 'doser blocked', 'doser drifting', 'refilled wrong', 'kit reads wrong'] as const),
    ...(['large sale', 'top-up stuck on', 'top-up stuck off'] as const),
  ],
  calcium: [
    'doser stuck on',
    'doser blocked',
    'doser drifting',
    'refilled wrong',
    'large sale',
    'top-up stuck on',
    'top-up stuck off',
  ],
  nitrate: ['food changed', 'changes skipped'],
  phosphate: ['food changed', 'changes skipped'],
  salinity: ['top-up stuck on', 'top-up stuck off'],
  temperature: ['heater on', 'heater off', 'thermostat stuck', 'power cut'],
  ph: ['doser stuck on', 'pump left off', 'power cut', 'refilled wrong'],
};

/** Whether one of these troubles is on, or ended within so many days. */
export const wasOn = (farm: Farm, { index }: System, kinds: readonly TroubleKind[], within = 10): boolean => {
  const now = timeOf(farm);
  return farm.troubles.some(
    ({ system, kind, from, endedDay }) =>
      system === index && kinds.includes(kind) && from <= now && (endedDay ?? now) > now - within,
  );
};

/** Whether something is truly the matter with a quantity: out of its band, or moved by a trouble. */
export function isTrueOfLevel(farm: Farm, system: System, code: Code): boolean {
  const [low, high] = bands[code];
  const level = system.water[code];
  return level < low + margins[code] || level > high - margins[code] || wasOn(farm, system, moves[code]);
}

/** Whether one of these lots is truly unwell. */
export const isTrueOfLots = ({ lots }: System, ids: readonly string[]): boolean =>
  lots.some(
    (lot) =>
      ids.includes(lot.id) &&
      (signOf(lot).state !== 'well' || lot.ills.pest + lot.ills.rot + lot.ills.sting > 0.05),
  );
