-- AlterTable
ALTER TABLE "fact_mark" ADD COLUMN     "rows_from" TIMESTAMPTZ(3);

-- Neither the time nor the quantity of a reading ever changes, so that what lies before the earliest that was touched is as
-- it was: a probe that reports each minute has only its last day worked out anew.
CREATE OR REPLACE FUNCTION mark_readings() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  INSERT INTO fact_mark (transaction, part, system_id, quantity_code, rows_from)
  SELECT pg_current_xact_id()::text::bigint, 'reading', system_id, quantity_code, min(at) FROM touched GROUP BY system_id, quantity_code;
  RETURN NULL;
END $$;
