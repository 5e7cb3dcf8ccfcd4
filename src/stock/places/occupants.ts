import type { LotsOnRack } from '../../farm/racks/racks.ts';
import type { CountLots } from '../../farm/systems/systems.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** How many lots stand in a system now. */
export const countLotsInSystem: CountLots = (tx, systemId) =>
  tx.placement.count({
    where: { toAt: null, slots: { some: { slot: { rack: { tank: { systemId } } } } } },
  });

/** The cells of a rack that are taken now, each with its lot, row by row. */
export const lotsOnRack: LotsOnRack = (tx, rackId) => tx.$queryRaw`
  SELECT lot_place.row, lot_place."column", lot.code AS "lotCode"
    FROM lot_place JOIN lot ON lot.id = lot_place.lot_id
   WHERE rack_id = ${rackId}::uuid ORDER BY lot_place.row, lot_place."column"`;

/** The lots that stand on some racks, rack by rack in reading order, each once. One query. */
export async function lotsOfRacks(
  reader: SqlReader,
  rackIds: readonly string[],
): Promise<{ id: string; code: string }[]> {
  const { rows } = await reader.query<{ id: string; code: string }>(
    `SELECT lot.id, lot.code FROM lot_place JOIN unnest($1::uuid[]) WITH ORDINALITY AS asked (id, position) ON asked.id = rack_id JOIN lot ON lot.id = lot_id
      GROUP BY lot.id ORDER BY min(position), min("row" * 100 + "column")`,
    [[...rackIds]],
  );
  return rows;
}
