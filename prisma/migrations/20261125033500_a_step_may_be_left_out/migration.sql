-- AlterTable
ALTER TABLE "correction_step" ADD COLUMN     "left_out_at" TIMESTAMPTZ(3);

-- ------------------------------------------------------------ what the schema cannot say

ALTER TABLE correction_step ADD CONSTRAINT correction_step_left_out CHECK (left_out_at IS NULL OR (done_at IS NULL AND note <> ''));

-- A step that was left out is as settled as one that was done.
CREATE OR REPLACE FUNCTION keep_correction_step() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' OR OLD.done_at IS NOT NULL OR OLD.left_out_at IS NOT NULL
     OR (NEW.correction_id, NEW.position, NEW.amount, NEW.unit, NEW.expected_after, NEW.due_on, NEW.retest)
     IS DISTINCT FROM (OLD.correction_id, OLD.position, OLD.amount, OLD.unit, OLD.expected_after, OLD.due_on, OLD.retest) THEN
    RAISE EXCEPTION 'correction_step_kept: a step of a correction is done once and not changed' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'correction_step_kept';
  END IF;
  RETURN NEW;
END $$;
