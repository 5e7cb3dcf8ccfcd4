import type { LotsOnRack } from '../../farm/racks/racks.ts';
import type { CountLots } from '../../farm/systems/systems.ts';

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
