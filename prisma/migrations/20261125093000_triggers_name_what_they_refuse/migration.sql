-- What a trigger refuses begins with the name of its constraint: not every driver passes the name on by itself.

CREATE OR REPLACE FUNCTION keep_within_rack() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE inside boolean;
BEGIN
  SELECT slot.row <= rack.rows AND slot."column" <= rack.columns INTO inside
    FROM slot JOIN rack ON rack.id = slot.rack_id WHERE slot.id = NEW.slot_id FOR SHARE OF rack;
  IF NOT inside THEN
    RAISE EXCEPTION 'placement_within_rack: this slot lies outside its rack' USING ERRCODE = 'check_violation', CONSTRAINT = 'placement_within_rack';
  END IF;
  RETURN NEW;
END $$;

CREATE OR REPLACE FUNCTION keep_lots_on_rack() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM placement_slot JOIN slot ON slot.id = placement_slot.slot_id
              WHERE slot.rack_id = NEW.id AND placement_slot.to_at IS NULL
                AND (slot.row > NEW.rows OR slot."column" > NEW.columns)) THEN
    RAISE EXCEPTION 'rack_keeps_lots: lots stand where the rack would end' USING ERRCODE = 'check_violation', CONSTRAINT = 'rack_keeps_lots';
  END IF;
  RETURN NEW;
END $$;

CREATE OR REPLACE FUNCTION planned_move_in_one_plan() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM planned_move AS other JOIN move_plan ON move_plan.id = other.plan_id
              WHERE other.plan_id <> NEW.plan_id AND move_plan.ended_at IS NULL AND other.done_at IS NULL
                AND other.left_out_at IS NULL AND (other.lot_id = NEW.lot_id OR other.slot_ids && NEW.slot_ids)) THEN
    RAISE EXCEPTION 'planned_move_in_one_plan: the lot or a slot is in another plan' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'planned_move_in_one_plan';
  END IF;
  RETURN NEW;
END $$;
