import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Tx } from '../../platform/service.ts';
import { calledBy } from '../base/codes.ts';
import { placeWords } from '../places/slots.ts';

/** A ticked lot, with what decides about changes of several at once. */
export interface TickedLot {
  id: string;
  code: string;
  ownCode: string;
  /** Its own code where it has one. */
  called: string;
  tradeName: string;
  kind: string;
  /** What the farm wrote of it. */
  note: string;
  pieces: number;
  /** Pieces held for buyers. */
  held: number;
  sizeMm: number | null;
  priceMinor: number | null;
  /** "Rack S2, A3"; "" when it stands nowhere. */
  place: string;
  rackId: string | null;
  /** The slots it takes now. */
  slotIds: string[];
}

interface Row extends Omit<TickedLot, 'called' | 'place' | 'slotIds'> {
  rackName: string | null;
  cells: Cell[] | null;
  slotIds: string[] | null;
}

const query = `
  SELECT lot.id, lot.code, lot.own_code AS "ownCode", lot.trade_name AS "tradeName", lot.note, kind.name AS kind, lot.pieces,
         coalesce(held.pieces, 0) AS held, lot.size_mm AS "sizeMm", lot.price_minor AS "priceMinor",
         place.rack_id AS "rackId", place.rack_name AS "rackName", place.cells, place.slots AS "slotIds"
    FROM unnest($2::text[]) WITH ORDINALITY AS asked (code, position)
    JOIN lot ON lot.code = asked.code AND lot.site_id = $1::uuid
    JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN (SELECT lot_id, sum(pieces)::int AS pieces FROM hold WHERE released_at IS NULL GROUP BY lot_id) AS held ON held.lot_id = lot.id
    LEFT JOIN LATERAL (SELECT rack_id, rack_name, json_agg(json_build_object('row', "row", 'column', "column") ORDER BY "row", "column") AS cells,
                              json_agg(slot_id ORDER BY "row", "column") AS slots
                         FROM lot_place WHERE lot_id = lot.id GROUP BY 1, 2) AS place ON true
   ORDER BY asked.position`;

/** Lots of a site by their codes, in the order of the codes; a code that is not there is left out. One query. */
export async function tickedLots(
  reader: SqlReader,
  siteId: string,
  codes: readonly string[],
): Promise<TickedLot[]> {
  const { rows } = await reader.query<Row>(query, [siteId, [...codes]]);
  return rows.map(({ rackName, cells, slotIds, ...lot }) => ({
    ...lot,
    called: calledBy(lot),
    place: rackName === null ? '' : placeWords(rackName, cells ?? []),
    slotIds: slotIds ?? [],
  }));
}

/** Locks lots until the change is done, in the order of their ids, so that two such changes never wait for each other. */
export async function lockLots(tx: Tx, siteId: string, codes: readonly string[]): Promise<void> {
  await tx.$queryRaw`
    SELECT id FROM lot WHERE site_id = ${siteId}::uuid AND code = ANY(${[...codes]}::text[]) ORDER BY id FOR UPDATE`;
}
