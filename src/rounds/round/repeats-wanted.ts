import type pg from 'pg';
import { displayNow } from '../../platform/units/reader-quantities.ts';
import { type Quantity, sayReading } from '../../water/quantities/quantities.ts';

/** A reading of this round that surprised and waits for a second one. */
export interface RepeatWanted {
  systemId: string;
  /** The quantity. */
  code: string;
  /** "Alkalinity 6.9 dKH". */
  said: string;
}

type RepeatRow = Pick<Quantity, 'code' | 'name' | 'canonicalUnit' | 'displayUnit' | 'decimals'> & {
  systemId: string;
  value: number;
  below: boolean;
  above: boolean;
};

const repeatQuery = `
  SELECT reading.system_id AS "systemId", reading.value, reading.below_detection AS below, reading.above_scale AS above, quantity.code, quantity.name,
         quantity.canonical_unit AS "canonicalUnit", quantity.display_unit AS "displayUnit", quantity.decimals
    FROM reading_with_vote AS reading JOIN quantity ON quantity.code = reading.quantity_code
   WHERE reading.system_id = ANY($1) AND reading.at >= $2 AND reading.at <= $3 AND reading.trust = 'unconfirmed'
     AND reading.voided_at IS NULL AND reading.account_id IS NOT NULL
   ORDER BY reading.at DESC`;

/** What people read of these systems within a time and nobody has tested again. One query. */
export async function repeatsWanted(
  pool: pg.Pool,
  systemIds: readonly string[],
  from: Date,
  to: Date,
): Promise<RepeatWanted[]> {
  const { rows } = await pool.query<RepeatRow>(repeatQuery, [systemIds, from, to]);
  return rows.map(({ systemId, value, below, above, ...quantity }) => ({
    systemId,
    code: quantity.code,
    said: `${quantity.name} ${sayReading(displayNow(quantity), { value, below, above })}`,
  }));
}
