-- CreateTable
CREATE TABLE "room" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "position" INTEGER NOT NULL DEFAULT 0,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "room_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "tank_place" (
    "tank_id" UUID NOT NULL,
    "room_id" UUID NOT NULL,
    "left_cm" INTEGER NOT NULL,
    "back_cm" INTEGER NOT NULL,
    "turned" BOOLEAN NOT NULL DEFAULT false,

    CONSTRAINT "tank_place_pkey" PRIMARY KEY ("tank_id")
);

-- CreateIndex
CREATE UNIQUE INDEX "room_site_id_name_key" ON "room"("site_id", "name");

-- CreateIndex
CREATE INDEX "tank_place_room_id_idx" ON "tank_place"("room_id");

-- AddForeignKey
ALTER TABLE "room" ADD CONSTRAINT "room_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tank_place" ADD CONSTRAINT "tank_place_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tank_place" ADD CONSTRAINT "tank_place_room_id_fkey" FOREIGN KEY ("room_id") REFERENCES "room"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- Up to 100 m either way (own choice): further off is a slip.
ALTER TABLE "tank_place" ADD CONSTRAINT "tank_place_within_room"
  CHECK (left_cm BETWEEN 0 AND 10000 AND back_cm BETWEEN 0 AND 10000);
ALTER TABLE "room" ADD CONSTRAINT "room_named" CHECK (name <> '');

-- A tank is drawn in a room of its own site.
CREATE FUNCTION tank_place_at_its_site() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT EXISTS (
    SELECT FROM room JOIN system ON system.site_id = room.site_id JOIN tank ON tank.system_id = system.id
     WHERE room.id = NEW.room_id AND tank.id = NEW.tank_id) THEN
    RAISE EXCEPTION 'a tank is drawn in a room of its own site' USING ERRCODE = 'check_violation', CONSTRAINT = 'tank_place_site';
  END IF;
  RETURN NULL;
END $$;
CREATE TRIGGER tank_place_site AFTER INSERT OR UPDATE ON tank_place FOR EACH ROW EXECUTE FUNCTION tank_place_at_its_site();

DO $$
DECLARE name text;
BEGIN
  FOREACH name IN ARRAY ARRAY['room', 'tank_place'] LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT OR UPDATE OR DELETE ON %I FOR EACH ROW
      WHEN (coalesce(current_setting(''evenwater.change'', true), '''') <> '''') EXECUTE FUNCTION keep_row_for_undo()',
      'undo_' || name, name);
  END LOOP;
END $$;
