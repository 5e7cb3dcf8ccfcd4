-- AlterTable
ALTER TABLE "kit" ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 1;

-- AlterTable
ALTER TABLE "doser_plan" ADD COLUMN     "void_reason" TEXT,
ADD COLUMN     "voided_at" TIMESTAMPTZ(3);

-- AlterTable
ALTER TABLE "doser_calibration" ADD COLUMN     "void_reason" TEXT,
ADD COLUMN     "voided_at" TIMESTAMPTZ(3);

-- A plan or a calibration of a doser that was entered by mistake stays in view, with its reason, and counts no more.
ALTER TABLE doser_plan ADD CONSTRAINT doser_plan_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE doser_calibration ADD CONSTRAINT doser_calibration_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));
DROP INDEX doser_plan_one_runs;
CREATE UNIQUE INDEX doser_plan_one_runs ON doser_plan (equipment_id) WHERE until_at IS NULL AND voided_at IS NULL;

-- What came in or went out of a lot is never changed. When it was, and who did it, can be corrected.
CREATE FUNCTION keep_ledger_entry() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE lowest integer;
BEGIN
  IF TG_OP = 'DELETE' OR to_jsonb(NEW) - 'at' - 'account_id' IS DISTINCT FROM to_jsonb(OLD) - 'at' - 'account_id' THEN
    RAISE EXCEPTION 'ledger_entry_append_only: ledger_entry is append-only' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'ledger_entry_append_only';
  END IF;
  SELECT min(running) INTO lowest FROM (
    SELECT sum(change) OVER (ORDER BY at, id) AS running FROM (
      SELECT id, change, CASE WHEN id = NEW.id THEN NEW.at ELSE at END AS at FROM ledger_entry WHERE lot_id = NEW.lot_id) AS line) AS counted;
  IF lowest < 0 THEN
    RAISE EXCEPTION 'ledger_not_below_zero: the count of this lot would fall below zero' USING ERRCODE = 'check_violation', CONSTRAINT = 'ledger_not_below_zero';
  END IF;
  RETURN NEW;
END $$;
DROP TRIGGER ledger_entry_append_only ON ledger_entry;
CREATE TRIGGER ledger_entry_append_only BEFORE UPDATE OR DELETE ON ledger_entry FOR EACH ROW EXECUTE FUNCTION keep_ledger_entry();

-- Names who did what an entry tells. A name that a file gave goes with it.
CREATE FUNCTION correct_person(entry text, entry_id uuid, person uuid) RETURNS void LANGUAGE plpgsql AS $$
DECLARE named text;
BEGIN
  SELECT string_agg(format(', %I = ''''', attname), '') INTO named
    FROM pg_attribute WHERE attrelid = entry::regclass AND attname IN ('measured_by', 'done_by') AND NOT attisdropped;
  EXECUTE format('UPDATE %I SET account_id = $1 %s WHERE id = $2', entry, coalesce(named, '')) USING person, entry_id;
END $$;

DO $$
DECLARE name text;
BEGIN
  FOREACH name IN ARRAY ARRAY['cut', 'ledger_entry', 'photo'] LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT OR UPDATE OR DELETE ON %I FOR EACH ROW
      WHEN (coalesce(current_setting(''evenwater.change'', true), '''') <> '''') EXECUTE FUNCTION keep_row_for_undo()',
      'undo_' || name, name);
  END LOOP;
END $$;
