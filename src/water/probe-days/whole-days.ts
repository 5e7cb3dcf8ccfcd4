/**
 * SQL of the CTEs `cited` and `one`: each reading of the days in `due` (system_id, quantity_code, at, until, method_id, kit_id,
 * instrument, time_zone) with its `day` and its `nth` in it. `is_middle`: the lower middle one of its day, which is the
 * one that rules read (`record.ts`). `as_sent`: nobody and nothing says more of a reading of that day than the instrument
 * sent. A day leaves as a whole or not at all, so that what is read of it stays the same.
 */
export const readingsOfDue = `
  cited AS MATERIALIZED (
    SELECT DISTINCT (piece ->> 'id')::uuid AS id
      FROM alert CROSS JOIN jsonb_path_query(alert.finding, '$.evidence[*] ? (@.kind == "reading")') AS piece
     WHERE alert.system_id IN (SELECT system_id FROM due)
  ), one AS (
    SELECT reading.*, due.at AS day, due.until, due.instrument, due.time_zone, count(*) OVER of_day AS of_day,
           row_number() OVER whole_day - 1 = (count(*) OVER of_day - 1) / 2 AS is_middle,
           bool_and(method.every_minutes IS NOT NULL AND method.laboratory = '' AND reading.trust = 'plain' AND reading.voided_at IS NULL
             AND NOT reading.below_detection AND NOT reading.above_scale AND reading.note = '' AND reading.batch = '' AND reading.measured_by = ''
             AND num_nonnulls(reading.account_id, reading.import_id, reading.supersedes_id, reading.settled_by_id, reading.slot_id) = 0
             AND NOT EXISTS (SELECT FROM cited WHERE cited.id = reading.id)
             AND NOT EXISTS (SELECT FROM reading AS other WHERE other.supersedes_id = reading.id)
             AND NOT EXISTS (SELECT FROM reading AS other WHERE other.settled_by_id = reading.id)
             AND NOT EXISTS (SELECT FROM correction WHERE correction.reading_id = reading.id)) OVER of_day AS as_sent
      FROM due JOIN method ON method.id = due.method_id
     CROSS JOIN LATERAL (
       SELECT * FROM reading WHERE reading.system_id = due.system_id AND reading.quantity_code = due.quantity_code
          AND reading.at >= due.at AND reading.at < due.until AND reading.method_id = due.method_id
          AND reading.kit_id IS NOT DISTINCT FROM due.kit_id OFFSET 0) AS reading
    WINDOW of_day AS (PARTITION BY due.system_id, due.quantity_code, due.at, due.method_id, due.instrument),
           whole_day AS (of_day ORDER BY reading.value, reading.id)
  )`;

/** SQL: readings of the day `rollup` wait to be rolled up. */
export const waits = `EXISTS (SELECT FROM reading_unrolled AS mark
                        WHERE mark.system_id = rollup.system_id AND mark.quantity_code = rollup.quantity_code
                          AND mark.from_at < rollup.at + interval '25 hours' AND mark.to_at >= rollup.at)`;
