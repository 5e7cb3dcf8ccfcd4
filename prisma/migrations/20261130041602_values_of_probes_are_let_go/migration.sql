-- AlterTable
ALTER TABLE "site" ADD COLUMN     "probe_value_days" INTEGER DEFAULT 400;

-- AlterTable
ALTER TABLE "reading_rollup" ADD COLUMN     "gone" INTEGER;

-- ------------------------------------------------------------ what the schema cannot say

-- Farms that are there already keep all until somebody says how long.
UPDATE site SET probe_value_days = NULL;

-- Rules, forecasts and temperatures read single values of some months; the least leaves them a little more than that.
ALTER TABLE site ADD CONSTRAINT site_probe_value_days CHECK (probe_value_days BETWEEN 130 AND 36500);
ALTER TABLE reading_rollup ADD CONSTRAINT reading_rollup_gone CHECK (gone BETWEEN 0 AND readings);

-- Days of which nobody has asked yet whether their values may go.
CREATE INDEX reading_rollup_not_asked ON reading_rollup (system_id, quantity_code, at) WHERE grain = 'day' AND gone IS NULL;
-- How many were made with a kit.
CREATE INDEX reading_rollup_gone_of_kit ON reading_rollup (kit_id) INCLUDE (gone) WHERE grain = 'day' AND gone > 0;
-- Whoever lets a reading go has to know that no other names it.
CREATE INDEX reading_settled_by ON reading (settled_by_id) WHERE settled_by_id IS NOT NULL;
CREATE INDEX correction_reading ON correction (reading_id);

-- A reading is never changed. It is deleted only by who lets values of probes go, and only as the probe sent it.
CREATE OR REPLACE FUNCTION keep_reading() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' THEN
    IF current_setting('evenwater.letting_go', true) = 'on' AND OLD.trust = 'plain' AND OLD.voided_at IS NULL AND OLD.note = ''
       AND OLD.account_id IS NULL AND OLD.import_id IS NULL AND OLD.supersedes_id IS NULL THEN
      RETURN OLD;
    END IF;
  ELSIF (NEW.system_id, NEW.quantity_code, NEW.at, NEW.value, NEW.below_detection, NEW.above_scale, NEW.entered_text, NEW.entered_unit, NEW.factor)
     IS NOT DISTINCT FROM (OLD.system_id, OLD.quantity_code, OLD.at, OLD.value, OLD.below_detection, OLD.above_scale, OLD.entered_text, OLD.entered_unit, OLD.factor) THEN
    RETURN NEW;
  END IF;
  RAISE EXCEPTION 'reading_kept: a reading is not changed; supersede or void it' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'reading_kept';
END $$;

-- What is let go changes no fact and no figure.
DROP TRIGGER reading_facts_gone ON reading;
CREATE TRIGGER reading_facts_gone AFTER DELETE ON reading REFERENCING OLD TABLE AS touched FOR EACH STATEMENT
  WHEN (current_setting('evenwater.letting_go', true) IS DISTINCT FROM 'on') EXECUTE FUNCTION mark_readings();

-- Days begin at another time; those whose values are gone stay as they were worked out.
CREATE OR REPLACE FUNCTION unroll_site() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
  own uuid[] := (SELECT array_agg(id) FROM system WHERE site_id = NEW.id);
BEGIN
  DELETE FROM reading_rollup WHERE system_id = ANY(own) AND (gone > 0) IS NOT TRUE;
  PERFORM unroll_readings(coalesce(own, '{}'), NULL);
  RETURN NULL;
END $$;
CREATE OR REPLACE FUNCTION unroll_system() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  DELETE FROM reading_rollup WHERE system_id = NEW.id AND (gone > 0) IS NOT TRUE;
  PERFORM unroll_readings(ARRAY[NEW.id], NULL);
  RETURN NULL;
END $$;
