import { slotName } from '../../farm/racks/slots.rules.ts';
import type { GrowthForm } from '../../generated/prisma/enums.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { HeightShare } from '../../science/photograph/height.ts';
import type { RackToRead } from '../../science/photograph/straight-rack.ts';

/** How high corals of a form grow against how wide they are (own choices, wide on purpose; common practice knows no figures). */
const heights: Readonly<Record<GrowthForm, HeightShare>> = {
  branching: { low: 0.4, high: 1 },
  fingers: { low: 0.4, high: 1 },
  plates: { low: 0.1, high: 0.7 },
  maze: { low: 0.1, high: 0.6 },
  honeycomb: { low: 0.05, high: 0.6 },
  lobed: { low: 0.1, high: 0.6 },
  disc: { low: 0.03, high: 0.3 },
  tentacles: { low: 0.2, high: 0.9 },
  toadstool: { low: 0.3, high: 0.9 },
  polyps: { low: 0.03, high: 0.4 },
};
const unknownHeight: HeightShare = { low: 0.03, high: 1 };

/** A lot on a rack at one time. */
export interface LotThen {
  id: string;
  code: string;
  /** "B3, B4" */
  slots: string;
}

const lotsThen = `
  SELECT lot.id, lot.code, face.growth_form AS "growthForm",
         json_agg(json_build_object('row', slot.row, 'column', slot."column") ORDER BY slot.row, slot."column") AS cells
    FROM placement_slot AS taken JOIN slot ON slot.id = taken.slot_id JOIN rack ON rack.id = slot.rack_id
    JOIN placement ON placement.id = taken.placement_id JOIN lot ON lot.id = placement.lot_id
    LEFT JOIN lot_face AS face ON face.lot_id = lot.id
   WHERE slot.rack_id = $1::uuid AND slot.row <= rack.rows AND slot."column" <= rack.columns
     AND taken.from_at <= $2 AND (taken.to_at IS NULL OR taken.to_at > $2)
   GROUP BY lot.id, lot.code, face.growth_form ORDER BY min(slot.row * 1000 + slot."column")`;

interface Row {
  id: string;
  code: string;
  growthForm: GrowthForm | null;
  cells: { row: number; column: number }[];
}

/** A rack as a photograph of that time shows it: with the lots that stood on it then, whatever moved since. */
export async function rackThen(
  sql: SqlReader,
  rack: { id: string; rows: number; columns: number },
  at: Date,
): Promise<{ rack: RackToRead; lots: LotThen[] }> {
  const { rows } = await sql.query<Row>(lotsThen, [rack.id, at]);
  return {
    rack: {
      ...{ id: rack.id, rows: rack.rows, columns: rack.columns },
      lots: rows.map(({ id, growthForm, cells }) => ({
        id,
        slots: cells.map(({ row, column }) => ({ row: row - 1, column: column - 1 })),
        height: growthForm === null ? unknownHeight : heights[growthForm],
      })),
    },
    lots: rows.map(({ id, code, cells }) => ({ id, code, slots: cells.map(slotName).join(', ') })),
  };
}
