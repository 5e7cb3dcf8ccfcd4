-- A tank's water may be joined or taken apart while it is watched: the watch follows it, by the operation that changes the
-- tank. What stays impossible is a watch over a tank whose water is not its own. Looked at when the change is whole.
CREATE OR REPLACE FUNCTION keep_water_of_tank() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF OLD.quarantine AND NOT NEW.quarantine AND EXISTS (SELECT FROM quarantine WHERE tank_id = NEW.id AND ended_at IS NULL) THEN
    RAISE EXCEPTION 'tank_in_quarantine: a quarantine runs in the tank' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'tank_in_quarantine';
  END IF;
  RETURN NEW;
END $$;
CREATE FUNCTION keep_watch_with_water() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW.own_water = '' AND EXISTS (SELECT FROM tank WHERE id = NEW.id AND own_water = '')
     AND EXISTS (SELECT FROM pest_watch WHERE tank_id = NEW.id AND ended_at IS NULL) THEN
    RAISE EXCEPTION 'tank_water_watched: the tank is under watch by itself' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'tank_water_watched';
  END IF;
  RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER tank_keeps_watch AFTER UPDATE OF own_water ON tank DEFERRABLE INITIALLY DEFERRED
  FOR EACH ROW EXECUTE FUNCTION keep_watch_with_water();
