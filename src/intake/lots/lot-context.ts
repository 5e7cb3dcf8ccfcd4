import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { NamedKind } from '../../stock/kinds/kind-names.rules.ts';
import type { LibraryName } from '../../stock/kinds/name-check.rules.ts';
import type { FileRack } from './places.rules.ts';

/** A lot of the farm that a file may name, or bring again. */
export interface KnownLot {
  id: string;
  code: string;
  ownCode: string;
  tradeName: string;
  alive: boolean;
  /** The row of a file it came from; null where it came otherwise. */
  importRow: string | null;
}

/** What the names in a file of stock are looked up in. */
export interface StockContext {
  now: Date;
  timeZone: string;
  /** ISO 4217; null until one is chosen. */
  currency: string | null;
  kinds: (NamedKind & LibraryName)[];
  racks: FileRack[];
  lots: KnownLot[];
  /** Which kind a name was said to mean in earlier files, by its plain form. */
  remembered: Record<string, string>;
}

const kindQuery = `
  SELECT kind.id, kind.name, array_prepend(kind.name, kind.also_called) AS names, kind.also_called AS "alsoCalled", kind.rank = 'taxon' AS "isTaxon",
         coalesce(parent.id, kind.id) AS "groupId", coalesce(parent.name, kind.name) AS "groupName"
    FROM kind LEFT JOIN kind AS parent ON parent.id = kind.parent_id ORDER BY kind.rank DESC, kind.name`;

const rackQuery = `
  SELECT rack.id, rack.name, tank.name AS tank, tank.system_id AS "systemId", rack.rows, rack.columns,
         coalesce(json_object_agg(slot.row || ':' || slot."column", slot.id) FILTER (WHERE slot.id IS NOT NULL), '{}') AS slots,
         coalesce(json_object_agg(slot.row || ':' || slot."column", coalesce(nullif(lot.own_code, ''), lot.code))
                  FILTER (WHERE lot.id IS NOT NULL), '{}') AS taken
    FROM rack
    JOIN tank ON tank.id = rack.tank_id
    JOIN system ON system.id = tank.system_id
    LEFT JOIN slot ON slot.rack_id = rack.id AND slot.row <= rack.rows AND slot."column" <= rack.columns
    LEFT JOIN placement_slot AS held ON held.slot_id = slot.id AND held.to_at IS NULL
    LEFT JOIN placement ON placement.id = held.placement_id
    LEFT JOIN lot ON lot.id = placement.lot_id
   WHERE system.site_id = $1::uuid AND system.retired_at IS NULL
   GROUP BY rack.id, tank.id ORDER BY tank.name, rack.name`;

const lotQuery = `
  SELECT id, code, own_code AS "ownCode", trade_name AS "tradeName", pieces > 0 AS alive, import_row AS "importRow" FROM lot WHERE site_id = $1::uuid`;

const nameQuery = `
  SELECT coalesce(json_object_agg(name, kind_id), '{}') AS remembered FROM lot_name WHERE site_id = $1::uuid`;

/** Loads what a file of stock may name. Four queries, however large the farm. */
export async function loadStockContext(
  reader: SqlReader,
  site: { id: string; timeZone: string; currency: string | null },
  now: Date,
): Promise<StockContext> {
  const kinds = await reader.query<StockContext['kinds'][number]>(kindQuery, []);
  const racks = await reader.query<FileRack>(rackQuery, [site.id]);
  const lots = await reader.query<KnownLot>(lotQuery, [site.id]);
  const names = await reader.query<Pick<StockContext, 'remembered'>>(nameQuery, [site.id]);
  return {
    now,
    timeZone: site.timeZone,
    currency: site.currency,
    kinds: kinds.rows,
    racks: racks.rows,
    lots: lots.rows,
    remembered: names.rows[0]?.remembered ?? {},
  };
}
