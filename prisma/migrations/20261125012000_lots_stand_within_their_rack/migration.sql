-- A rack that is made smaller keeps its slots' history; only what lies within its rows and columns can hold a lot.

CREATE FUNCTION keep_within_rack() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE inside boolean;
BEGIN
  SELECT slot.row <= rack.rows AND slot."column" <= rack.columns INTO inside
    FROM slot JOIN rack ON rack.id = slot.rack_id WHERE slot.id = NEW.slot_id FOR SHARE OF rack;
  IF NOT inside THEN
    RAISE EXCEPTION 'this slot lies outside its rack' USING ERRCODE = 'check_violation', CONSTRAINT = 'placement_within_rack';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER placement_within_rack BEFORE INSERT ON placement_slot FOR EACH ROW EXECUTE FUNCTION keep_within_rack();

CREATE FUNCTION keep_lots_on_rack() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM placement_slot JOIN slot ON slot.id = placement_slot.slot_id
              WHERE slot.rack_id = NEW.id AND placement_slot.to_at IS NULL
                AND (slot.row > NEW.rows OR slot."column" > NEW.columns)) THEN
    RAISE EXCEPTION 'lots stand where the rack would end' USING ERRCODE = 'check_violation', CONSTRAINT = 'rack_keeps_lots';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER rack_keeps_lots BEFORE UPDATE OF rows, columns ON rack FOR EACH ROW EXECUTE FUNCTION keep_lots_on_rack();
