import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { daysBefore } from '../../science/numeric/time.ts';

/**
 * Days after which a lot counts as used to the light here, whatever it came from: the last of the looks at lots of unknown
 * light (fluorescence adjusts within about 21 days, J. Exp. Biol. 222 (2019), read in an abstract; 40 by common practice).
 */
export const SETTLED_DAYS = 40;

/** What is known of the light in which lots of one delivery stood before. */
export interface ReceivedLight {
  known: 'unknown' | 'stated' | 'measured';
  /** The dimmest of it, PAR in umol/(m2 s); null where it is not known. */
  par: number | null;
}

const query = `
  SELECT line.light_known AS known, line.light_par AS par
    FROM delivery_line AS line JOIN delivery ON delivery.id = line.delivery_id
   WHERE line.lot_id = ANY($1::uuid[]) AND delivery.came_at > $2`;

/**
 * The light before of lots that came with a delivery lately; null where none did. Where it is not known of one of them, it is
 * not known of them together. One query.
 */
export async function receivedLight(
  reader: SqlReader,
  lotIds: readonly string[],
  now: Date,
): Promise<ReceivedLight | null> {
  const since = daysBefore(now, SETTLED_DAYS);
  const { rows } = await reader.query<ReceivedLight>(query, [[...lotIds], since]);
  if (rows.length === 0) return null;
  const pars = rows.flatMap(({ par }) => par ?? []);
  if (pars.length < rows.length) return { known: 'unknown', par: null };
  const known = rows.every((row) => row.known === 'measured') ? 'measured' : 'stated';
  return { known, par: Math.min(...pars) };
}
