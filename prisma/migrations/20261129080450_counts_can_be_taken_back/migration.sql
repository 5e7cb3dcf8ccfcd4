-- AlterTable
ALTER TABLE "ledger_entry" ADD COLUMN     "void_reason" TEXT,
ADD COLUMN     "voided_at" TIMESTAMPTZ(3);

-- A line that was taken back stays in view and no longer counts.
ALTER TABLE ledger_entry ADD CONSTRAINT ledger_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));

-- The running count in order of time, without what was taken back, must not dip below zero anywhere; the lot's row is the lock.
CREATE OR REPLACE FUNCTION count_ledger() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE lowest integer; total integer;
BEGIN
  PERFORM 1 FROM lot WHERE id = NEW.lot_id FOR UPDATE;
  SELECT min(running), sum(change) INTO lowest, total FROM (
    SELECT change, sum(change) OVER (ORDER BY at, id) AS running FROM ledger_entry
     WHERE lot_id = NEW.lot_id AND voided_at IS NULL) AS counted;
  IF lowest < 0 THEN
    RAISE EXCEPTION 'ledger_not_below_zero: the count of this lot would fall below zero' USING ERRCODE = 'check_violation', CONSTRAINT = 'ledger_not_below_zero';
  END IF;
  UPDATE lot SET pieces = coalesce(total, 0) WHERE id = NEW.lot_id;
  RETURN NULL;
END $$;
CREATE TRIGGER ledger_counts_again AFTER UPDATE OF voided_at ON ledger_entry FOR EACH ROW EXECUTE FUNCTION count_ledger();

-- Of a line only when, by whom, why pieces were lost, and whether it was taken back can change.
CREATE OR REPLACE FUNCTION keep_ledger_entry() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE lowest integer;
BEGIN
  IF TG_OP = 'DELETE' OR to_jsonb(NEW) - 'at' - 'account_id' - 'cause' - 'voided_at' - 'void_reason'
       IS DISTINCT FROM to_jsonb(OLD) - 'at' - 'account_id' - 'cause' - 'voided_at' - 'void_reason' THEN
    RAISE EXCEPTION 'ledger_entry_append_only: ledger_entry is append-only' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'ledger_entry_append_only';
  END IF;
  SELECT min(running) INTO lowest FROM (
    SELECT sum(change) OVER (ORDER BY at, id) AS running FROM (
      SELECT id, change, CASE WHEN id = NEW.id THEN NEW.at ELSE at END AS at FROM ledger_entry
       WHERE lot_id = NEW.lot_id AND (CASE WHEN id = NEW.id THEN NEW.voided_at ELSE voided_at END) IS NULL) AS line) AS counted;
  IF lowest < 0 THEN
    RAISE EXCEPTION 'ledger_not_below_zero: the count of this lot would fall below zero' USING ERRCODE = 'check_violation', CONSTRAINT = 'ledger_not_below_zero';
  END IF;
  RETURN NEW;
END $$;

-- What is promised to a buyer stays when pieces that were received are taken back.
CREATE OR REPLACE FUNCTION keep_promised_pieces() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE there integer; held integer;
BEGIN
  PERFORM FROM lot WHERE id = NEW.lot_id FOR UPDATE;
  SELECT coalesce(sum(pieces), 0) INTO held FROM hold WHERE lot_id = NEW.lot_id AND released_at IS NULL;
  IF held > 0 THEN
    SELECT coalesce(sum(change), 0) INTO there FROM ledger_entry WHERE lot_id = NEW.lot_id AND voided_at IS NULL;
    IF held > there THEN
      RAISE EXCEPTION 'promised_pieces_stay: more pieces are promised than would be left' USING ERRCODE = 'check_violation', CONSTRAINT = 'promised_pieces_stay';
    END IF;
  END IF;
  RETURN NULL;
END $$;
CREATE TRIGGER promised_pieces_stay_after_void AFTER UPDATE OF voided_at ON ledger_entry FOR EACH ROW
  WHEN (NEW.change > 0 AND NEW.voided_at IS NOT NULL) EXECUTE FUNCTION keep_promised_pieces();

-- The first line of a lot's ledger that counts says when it was split off, where no cut does.
CREATE OR REPLACE FUNCTION mark_ledger() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(lot_id) FROM touched), EXISTS (
    SELECT 1 FROM touched WHERE NOT EXISTS (
      SELECT 1 FROM ledger_entry AS other WHERE other.lot_id = touched.lot_id AND other.id <> touched.id AND other.at <= touched.at
         AND other.voided_at IS NULL)));
  RETURN NULL;
END $$;

-- Pieces that were lost are news for every system, so is a loss that was none.
CREATE TRIGGER ledger_entry_void_facts AFTER UPDATE OF voided_at ON ledger_entry FOR EACH STATEMENT EXECUTE FUNCTION mark_all('lot');

CREATE TRIGGER undo_sale AFTER INSERT OR UPDATE OR DELETE ON sale FOR EACH ROW
  WHEN (coalesce(current_setting('evenwater.change', true), '') <> '') EXECUTE FUNCTION keep_row_for_undo();

-- A new photo is voided from its notice; its bytes are not kept a second time for that.
DROP TRIGGER undo_photo ON photo;
CREATE TRIGGER undo_photo AFTER UPDATE OR DELETE ON photo FOR EACH ROW
  WHEN (coalesce(current_setting('evenwater.change', true), '') <> '') EXECUTE FUNCTION keep_row_for_undo();
