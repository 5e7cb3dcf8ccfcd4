import type { Tx } from '../platform/service.ts';

/** How the farm writes one quantity. */
export interface QuantityDisplay {
  code: string;
  unit: string;
  decimals: number;
}

/** Keeps in which unit and to how many decimals the farm writes its quantities. One statement. */
export async function keepDisplays(tx: Tx, displays: readonly QuantityDisplay[]): Promise<void> {
  await tx.$executeRaw`
    UPDATE quantity SET display_unit = said.unit, decimals = said.decimals
      FROM unnest(${displays.map((one) => one.code)}::text[], ${displays.map((one) => one.unit)}::text[],
                  ${displays.map((one) => one.decimals)}::int[]) AS said(code, unit, decimals)
     WHERE quantity.code = said.code`;
}
