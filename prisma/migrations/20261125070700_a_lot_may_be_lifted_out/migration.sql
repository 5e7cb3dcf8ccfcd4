-- Where lots change places in a circle, one of them is lifted out first: a move without slots. And a lot that is moved
-- on within the minute never stood in between, so that the move which brought it there has no placement left.
ALTER TABLE planned_move DROP CONSTRAINT planned_move_goes_somewhere,
  DROP CONSTRAINT planned_move_done,
  ADD CONSTRAINT planned_move_done CHECK ((placement_id IS NULL OR done_at IS NOT NULL) AND (done_at IS NULL OR left_out_at IS NULL));
-- Of one lot not two running plans: its open moves belong to one plan, and so do the open places.
CREATE FUNCTION planned_move_in_one_plan() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM planned_move AS other JOIN move_plan ON move_plan.id = other.plan_id
              WHERE other.plan_id <> NEW.plan_id AND move_plan.ended_at IS NULL AND other.done_at IS NULL
                AND other.left_out_at IS NULL AND (other.lot_id = NEW.lot_id OR other.slot_ids && NEW.slot_ids)) THEN
    RAISE EXCEPTION 'planned_move_in_one_plan';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER planned_move_in_one_plan BEFORE INSERT ON planned_move FOR EACH ROW EXECUTE FUNCTION planned_move_in_one_plan();
