-- AlterTable
ALTER TABLE "method" ADD COLUMN     "is_probe" BOOLEAN NOT NULL DEFAULT false;

-- AlterTable
ALTER TABLE "reading" ADD COLUMN     "above_scale" BOOLEAN NOT NULL DEFAULT false;

-- The library's own probes, as farms that began earlier have them.
UPDATE method SET is_probe = true WHERE every_minutes IS NOT NULL OR (quantity_code, name) IN
  (('temperature', 'probe'), ('ph', 'probe'), ('oxygen', 'probe'), ('salinity', 'conductivity probe'));

-- A value is one, the most it can be, or the least it can be.
ALTER TABLE reading ADD CONSTRAINT reading_one_bound CHECK (NOT (below_detection AND above_scale));

CREATE OR REPLACE FUNCTION keep_reading() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' OR (NEW.system_id, NEW.quantity_code, NEW.at, NEW.value, NEW.below_detection, NEW.above_scale, NEW.entered_text, NEW.entered_unit, NEW.factor)
     IS DISTINCT FROM (OLD.system_id, OLD.quantity_code, OLD.at, OLD.value, OLD.below_detection, OLD.above_scale, OLD.entered_text, OLD.entered_unit, OLD.factor) THEN
    RAISE EXCEPTION 'reading_kept: a reading is not changed; supersede or void it' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'reading_kept';
  END IF;
  RETURN NEW;
END $$;
