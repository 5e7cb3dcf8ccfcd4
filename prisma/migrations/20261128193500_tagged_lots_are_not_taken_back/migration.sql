-- A lot that came with a file is taken back by taking its row off. Pieces of it that were tagged may be with a buyer.
CREATE FUNCTION keep_tagged_lot() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM tag WHERE lot_id = NEW.id) THEN
    RAISE EXCEPTION 'lot_tagged_stays: pieces of it were tagged' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'lot_tagged_stays';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER lot_tagged_stays BEFORE UPDATE OF import_row ON lot
  FOR EACH ROW WHEN (OLD.import_row IS NOT NULL AND NEW.import_row IS NULL) EXECUTE FUNCTION keep_tagged_lot();
