-- What is written to readings is gone through once and not three times: of what PostgreSQL spent on a value of a pack, the
-- three took a quarter. What they said stays said, by what was written of each instrument: its origin is held, facts and
-- roll-ups are marked, and days that are packed are rows again.
CREATE TYPE readings_written AS (system_id uuid, quantity_code text, method_id uuid, kit_id uuid, access_key_id uuid,
  first_at timestamptz, last_at timestamptz, is_late boolean);

CREATE FUNCTION follow_readings() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
  written readings_written[];
  found bigint[];
BEGIN
  SELECT array_agg(one) INTO written
    FROM (SELECT system_id, quantity_code, method_id, kit_id, access_key_id, min(at), max(at), bool_or(TG_OP = 'UPDATE' OR at < created_at - interval '2 days')
            FROM touched GROUP BY 1, 2, 3, 4, 5) AS one;
  IF written IS NULL THEN
    RETURN NULL;
  END IF;

  -- A row is there before the statement that wrote its readings ends, and never goes: so what a reading names is there for as long
  -- as the reading is.
  INSERT INTO reading_origin (id, system_id, quantity_code, method_id, kit_id, access_key_id)
  SELECT gen_random_uuid(), one.system_id, one.quantity_code, one.method_id, one.kit_id, one.access_key_id FROM unnest(written) AS one
  ON CONFLICT DO NOTHING;

  -- Neither the time nor the quantity of a reading ever changes, so that what lies before the earliest is as it was. The marks are
  -- of the same transaction: whoever sees them sees the readings.
  INSERT INTO fact_mark (transaction, part, system_id, quantity_code, rows_from)
  SELECT pg_current_xact_id()::text::bigint, 'reading', system_id, quantity_code, min(first_at) FROM unnest(written) GROUP BY system_id, quantity_code;
  INSERT INTO reading_unrolled (system_id, quantity_code, from_at, to_at)
  SELECT one.system_id, one.quantity_code, min(first_at), max(last_at)
    FROM unnest(written) AS one JOIN method ON method.id = one.method_id AND method.every_minutes IS NOT NULL
   GROUP BY one.system_id, one.quantity_code;

  -- Who writes to a day that is packed has all of it be rows first of all, so that a day is never half of each. Who packs holds a
  -- system alone meanwhile; who writes what is older than two days, or changes a reading, waits for that, and then sees the packs.
  PERFORM pg_advisory_xact_lock_shared(hashtextextended('readings of ' || late.system_id, 0))
     FROM (SELECT DISTINCT system_id FROM unnest(written) WHERE is_late ORDER BY system_id) AS late;
  SELECT array_agg(DISTINCT pack.nth) INTO found
    FROM unnest(written) AS span
   CROSS JOIN LATERAL (
     SELECT * FROM reading_pack AS one WHERE one.system_id = span.system_id AND one.quantity_code = span.quantity_code
        AND one.until_at > span.first_at AND one.from_at <= span.last_at AND one.until_at <= span.last_at + interval '26 hours'
        AND one.method_id = span.method_id AND one.kit_id IS NOT DISTINCT FROM span.kit_id OFFSET 0) AS pack
   WHERE EXISTS (SELECT FROM touched WHERE touched.system_id = pack.system_id AND touched.quantity_code = pack.quantity_code AND touched.method_id = pack.method_id
                    AND touched.kit_id IS NOT DISTINCT FROM pack.kit_id AND touched.at >= pack.from_at AND touched.at < pack.until_at);
  IF found IS NOT NULL THEN
    PERFORM bring_back(found);
  END IF;
  RETURN NULL;
END $$;

DROP TRIGGER reading_facts_added ON reading;
DROP TRIGGER reading_held ON reading;
DROP TRIGGER reading_whole_days ON reading;
DROP TRIGGER reading_facts_changed ON reading;
DROP TRIGGER reading_held_still ON reading;
DROP TRIGGER reading_whole_days_still ON reading;
DROP FUNCTION hold_readings();
DROP FUNCTION bring_back_touched();
CREATE TRIGGER reading_followed AFTER INSERT ON reading REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION follow_readings();
CREATE TRIGGER reading_followed_still AFTER UPDATE ON reading REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION follow_readings();
