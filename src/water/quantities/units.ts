import { keepDisplays } from '../../farm/quantities.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import { unitsOf } from '../../science/units.ts';
import { nameInSentence } from './name.rules.ts';
import { decimalsIn, type Quantity } from './quantities.ts';

/** How one quantity is to be shown. */
export interface UnitDisplay {
  unit: string;
  decimals: number;
}

/** What new units write over. */
export const unitsStanding: Standing = {
  what: 'the units',
  read: ({ quantity }) =>
    quantity.findMany({
      select: { code: true, displayUnit: true, decimals: true },
      orderBy: { code: 'asc' },
    }),
};

/**
 * Sets the farm's unit and decimals of each quantity named. Where only the unit is changed, as many decimals follow as
 * tell about the same there. @throws Refusal naming the quantity
 */
export async function setUnits(
  work: Work,
  wanted: ReadonlyMap<string, UnitDisplay>,
  quantities: readonly Quantity[],
): Promise<void> {
  const changed = quantities.flatMap((quantity) => {
    const display = wanted.get(quantity.code);
    return display === undefined ? [] : displayChange(quantity, display);
  });
  await keepDisplays(work.tx, changed);
  const oldest = { orderBy: [{ createdAt: 'asc' as const }, { id: 'asc' as const }], select: { id: true } };
  const site = await work.tx.site.findFirstOrThrow(oldest);
  work.record('units.changed', { type: 'site', id: site.id }, { units: changed });
}

function displayChange(
  quantity: Quantity,
  { unit, decimals }: UnitDisplay,
): (UnitDisplay & { code: string })[] {
  const { code, displayUnit } = quantity;
  if (!unitsOf(code).includes(unit)) {
    throw new Refusal(`Choose a unit of ${nameInSentence(quantity.name)} from the list.`, { field: code });
  }
  if (unit === displayUnit && decimals === quantity.decimals) return [];
  const follow = unit !== displayUnit && decimals === quantity.decimals;
  return [{ code, unit, decimals: follow ? decimalsIn(quantity, unit) : decimals }];
}
