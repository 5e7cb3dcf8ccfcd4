-- Each refusal of a trigger begins with the name that the application puts into words.
CREATE OR REPLACE FUNCTION tank_place_at_its_site() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT EXISTS (
    SELECT FROM room JOIN system ON system.site_id = room.site_id JOIN tank ON tank.system_id = system.id
     WHERE room.id = NEW.room_id AND tank.id = NEW.tank_id) THEN
    RAISE EXCEPTION 'tank_place_site: a tank is drawn in a room of its own site' USING ERRCODE = 'check_violation', CONSTRAINT = 'tank_place_site';
  END IF;
  RETURN NULL;
END $$;
