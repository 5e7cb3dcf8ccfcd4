-- A done move is kept as it was, but for its placement: a lot that goes on within the minute never stood there.
CREATE FUNCTION keep_done_move() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF OLD.done_at IS NULL AND OLD.left_out_at IS NULL THEN
    RETURN CASE TG_OP WHEN 'DELETE' THEN OLD ELSE NEW END;
  END IF;
  IF TG_OP = 'UPDATE' AND NEW.placement_id IS NULL THEN
    OLD.placement_id := NULL;
    IF NEW IS NOT DISTINCT FROM OLD THEN RETURN NEW; END IF;
  END IF;
  RAISE EXCEPTION 'step_done_once: a move is done once and then kept' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'step_done_once';
END $$;
DROP TRIGGER planned_move_kept ON planned_move;
CREATE TRIGGER planned_move_kept BEFORE UPDATE OR DELETE ON planned_move FOR EACH ROW EXECUTE FUNCTION keep_done_move();
