-- What went out of a doser's container tells what was dosed.
CREATE FUNCTION mark_levels() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts('container_level', (SELECT array_agg(DISTINCT system_id) FROM equipment WHERE id IN (SELECT equipment_id FROM touched)));
  RETURN NULL;
END $$;

CREATE TRIGGER container_level_facts_added AFTER INSERT ON container_level REFERENCING NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_levels();
CREATE TRIGGER container_level_facts_changed AFTER UPDATE ON container_level REFERENCING NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_levels();
CREATE TRIGGER container_level_facts_gone AFTER DELETE ON container_level REFERENCING OLD TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_levels();
