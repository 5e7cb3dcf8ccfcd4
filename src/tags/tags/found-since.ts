import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { biasCorrector } from '../../water/kits/bias.ts';
import { recordDays } from '../record/facts.ts';
import type { TagRecord } from '../record/record.ts';
import { foundWords } from './found-since.rules.ts';

interface Behind extends Record<string, unknown> {
  kitId: string;
  quantityCode: string;
  /** When it was last tested beside a standard or another kit; null where it never was. */
  foundAt: Date | null;
  timeZone: string;
}

// By kit and place, so that no value of a probe is gone through.
const kitsBehindQuery = `
  WITH stay AS (
    SELECT DISTINCT tank.system_id, greatest(placement.from_at, $2::timestamptz) AS since, least(placement.to_at, $3::timestamptz) AS until
      FROM placement
      JOIN placement_slot ON placement_slot.placement_id = placement.id
      JOIN slot ON slot.id = placement_slot.slot_id
      JOIN rack ON rack.id = slot.rack_id
      JOIN tank ON tank.id = rack.tank_id
     WHERE placement.lot_id = $1)
  SELECT kit.id AS "kitId", method.quantity_code AS "quantityCode",
         greatest((SELECT max(at) FROM check_reading WHERE kit_id = kit.id AND voided_at IS NULL),
                  (SELECT max(at) FROM kit_pair WHERE kit_id = kit.id AND voided_at IS NULL)) AS "foundAt",
         (SELECT time_zone FROM site JOIN lot ON lot.site_id = site.id WHERE lot.id = $1) AS "timeZone"
    FROM kit JOIN method ON method.id = kit.method_id
   WHERE method.quantity_code = ANY($4::text[]) AND EXISTS (
         SELECT FROM stay JOIN reading ON reading.system_id = stay.system_id AND reading.kit_id = kit.id
          WHERE reading.at >= stay.since AND reading.at <= stay.until AND reading.voided_at IS NULL AND reading.slot_id IS NULL)
   ORDER BY method.quantity_code, kit.id`;

/**
 * What is known by now of the kits that a tag's water was tested with, and that its record does not say: a sentence each. The record
 * stays as it was signed. One query, and three for each quantity whose tests were made with a kit.
 */
export async function foundSince(
  reader: SqlReader,
  { lotId, issuedAt, record }: { lotId: string; issuedAt: Date; record: TagRecord },
): Promise<string[]> {
  const water = new Map(record.water.map((one) => [one.quantity, one]));
  const since = daysBefore(issuedAt, recordDays);
  const { rows } = await reader.query<Behind>(kitsBehindQuery, [lotId, since, issuedAt, [...water.keys()]]);
  // What any value of a kit is off by: only its share is taken.
  const one = { value: 1, uncertainty: 0, below: false, above: false };
  const judged = await biasCorrector(reader)(rows.map((row) => ({ ...row, ...one })));
  return judged.flatMap(({ corrected, foundAt, quantityCode, timeZone }) => {
    const said = water.get(quantityCode);
    const isLater = foundAt !== null && foundAt > issuedAt;
    if (corrected === null || said === undefined || (!isLater && said.doubt !== '')) return [];
    const found = isLater ? dateWords(foundAt, timeZone) : '';
    return [foundWords({ found, bias: corrected.bias, name: said.name })];
  });
}
