/**
 * True where nobody knows at what hour of its day something was done: a file that names the day alone is kept at its noon, and a
 * doser's day stands at its end. @param row a reading or a dose, with its system joined as `system` beside it
 */
const atNoonOfFile = (row: string) =>
  `(${row}.import_id IS NOT NULL AND (${row}.at AT TIME ZONE (SELECT time_zone FROM site JOIN system ON system.site_id = site.id
      WHERE system.id = ${row}.system_id))::time = '12:00')`;

/** The hours from the last dose of a reading's quantity to the reading, within the week before; null where either hour is not known. */
export const hoursSinceDoseSql = `
  (SELECT CASE WHEN dose.doser_id IS NULL AND NOT ${atNoonOfFile('dose')} AND NOT ${atNoonOfFile('reading')}
               THEN extract(epoch FROM reading.at - dose.at)::float8 / 3600 END
     FROM dose
    WHERE dose.system_id = reading.system_id AND dose.quantity_code = reading.quantity_code AND dose.voided_at IS NULL
      AND dose.at <= reading.at AND dose.at > reading.at - interval '7 days' ORDER BY dose.at DESC LIMIT 1)`;

/** When each quantity that is dosed was last dosed, within a week before $2, in system $1; null where its hour is not known. */
export const lastDosesSql = `
  SELECT DISTINCT ON (quantity_code) quantity_code AS "quantityCode",
         CASE WHEN dose.doser_id IS NULL AND NOT ${atNoonOfFile('dose')} THEN dose.at END AS at
    FROM dose
   WHERE system_id = $1 AND voided_at IS NULL AND at > $2::timestamptz - interval '7 days' AND at <= $2
     AND quantity_code IN ('alkalinity', 'calcium', 'magnesium') ORDER BY quantity_code, dose.at DESC`;
