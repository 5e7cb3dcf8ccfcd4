import type { Work } from '../platform/change.ts';
import { Refusal } from '../platform/refusal.ts';
import { unitsOf } from '../science/units.ts';
import { decimalsIn, type Quantity } from './quantities.ts';

/** Sets the farm's unit of each quantity named, and as many decimals as tell the same there. @throws Refusal */
export async function setUnits(
  work: Work,
  typed: Readonly<Record<string, string>>,
  quantities: readonly Quantity[],
): Promise<void> {
  const changed = quantities.flatMap((quantity) => {
    const unit = typed[quantity.code] ?? '';
    if (unit === '' || unit === quantity.displayUnit) return [];
    if (unitsOf(quantity.code).includes(unit))
      return [{ code: quantity.code, unit, decimals: decimalsIn(quantity, unit) }];
    throw new Refusal(`Choose a unit of ${quantity.name.toLowerCase()} from the list.`, {
      field: quantity.code,
    });
  });
  await work.tx.$executeRaw`
    UPDATE quantity SET display_unit = said.unit, decimals = said.decimals
      FROM unnest(${changed.map((one) => one.code)}::text[], ${changed.map((one) => one.unit)}::text[],
                  ${changed.map((one) => one.decimals)}::int[]) AS said(code, unit, decimals)
     WHERE quantity.code = said.code`;
  const site = await work.tx.site.findFirstOrThrow({
    orderBy: [{ createdAt: 'asc' }, { id: 'asc' }],
    select: { id: true },
  });
  work.note('units.changed', { type: 'site', id: site.id }, { units: changed });
}
