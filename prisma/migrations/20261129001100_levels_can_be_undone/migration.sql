-- A container that was filled by mistake is as it was before, with what was seen in it.
CREATE TRIGGER undo_container_level AFTER INSERT OR UPDATE OR DELETE ON container_level FOR EACH ROW
  WHEN (coalesce(current_setting('evenwater.change', true), '') <> '') EXECUTE FUNCTION keep_row_for_undo();
