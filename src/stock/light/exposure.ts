import { slotLightHistories } from '../../farm/light/slot-light.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { type Exposure, exposuresOf, type Stay } from './exposure.rules.ts';

export type { Exposure } from './exposure.rules.ts';

/** Which lots: those standing in a system, those named, or both; `since` leaves out what ended before. */
export interface ExposureFilter {
  systemId?: string;
  lotIds?: readonly string[];
  since?: Date;
}

const stayQuery = `
  SELECT placement.lot_id AS "lotId", placement.from_at AS "from",
         CASE WHEN placement.to_at <= $1 THEN placement.to_at END AS "to",
         string_agg(slot.id::text, ' ' ORDER BY slot.rack_id, slot.row, slot."column") AS slots
    FROM placement
    JOIN placement_slot ON placement_slot.placement_id = placement.id
    JOIN slot ON slot.id = placement_slot.slot_id
   WHERE placement.from_at <= $1
     AND ($2::uuid[] IS NULL OR placement.lot_id = ANY($2::uuid[]))
     AND ($3::uuid IS NULL OR placement.lot_id IN (
       SELECT current.lot_id FROM placement AS current
         JOIN placement_slot ON placement_slot.placement_id = current.id
         JOIN slot ON slot.id = placement_slot.slot_id
         JOIN rack ON rack.id = slot.rack_id
         JOIN tank ON tank.id = rack.tank_id
        WHERE tank.system_id = $3 AND current.from_at <= $1 AND (current.to_at IS NULL OR current.to_at > $1)))
     AND ($4::timestamptz IS NULL OR placement.to_at IS NULL OR placement.to_at > $4)
   GROUP BY placement.id
   ORDER BY placement.lot_id, placement.from_at`;

/**
 * The light that lots had until `now`, as periods of constant light in order of time: their placements, divided at every
 * light survey, every lamp setting and every change of the rack's mounting. A survey holds until the next; before the
 * first one the light is not known. Between surveys the light follows the lamps' setting and the rack's
 * mounting (estimated). Five queries, however many lots.
 * @returns every lot of the filter that was ever placed; an empty list where its slots were never surveyed
 */
export async function lotExposures(
  reader: SqlReader,
  filter: ExposureFilter,
  now: Date,
): Promise<Map<string, Exposure[]>> {
  const { systemId = null, lotIds = null, since = null } = filter;
  type Row = Omit<Stay, 'slotIds'> & { lotId: string; slots: string };
  const { rows: stayRows } = await reader.query<Row>(stayQuery, [now, lotIds, systemId, since]);
  const rows = stayRows.map(({ slots, ...stay }) => ({ ...stay, slotIds: slots.split(' ') }));
  const slotIds = [...new Set(rows.flatMap((stay) => stay.slotIds))];
  const histories = await slotLightHistories(reader, slotIds, now, since);
  const stays = Map.groupBy(rows, (stay) => stay.lotId);
  return new Map(
    [...stays].map(([lotId, list]) => [lotId, list.flatMap((stay) => exposuresOf(stay, histories))]),
  );
}
