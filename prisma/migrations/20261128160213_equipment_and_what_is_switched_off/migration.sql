-- CreateEnum
CREATE TYPE "EquipmentKind" AS ENUM ('return_pump', 'wave_pump', 'air_pump', 'heater', 'chiller', 'doser', 'top_up', 'float_switch', 'skimmer', 'reactor', 'media_filter', 'lamp', 'purifier', 'other');

-- CreateEnum
CREATE TYPE "UpkeepWork" AS ENUM ('service', 'test');

-- CreateEnum
CREATE TYPE "OffThing" AS ENUM ('all_flow', 'return_pump', 'wave_pump', 'air', 'skimmer', 'heating', 'cooling', 'doser', 'reactor', 'top_up', 'light', 'valve_open', 'by_hand', 'protection', 'media_filter', 'other');

-- CreateEnum
CREATE TYPE "EventKind" AS ENUM ('power_cut', 'media_changed', 'reactor_started', 'reactor_stopped', 'mass_loss', 'stock_sold', 'new_additive', 'new_salt');

-- CreateTable
CREATE TABLE "circuit" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "place" TEXT NOT NULL DEFAULT '',
    "protection" TEXT NOT NULL DEFAULT '',
    "test_every_days" DOUBLE PRECISION,
    "note" TEXT NOT NULL DEFAULT '',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "circuit_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "equipment" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "tank_id" UUID,
    "circuit_id" UUID,
    "part_of_id" UUID,
    "lamp_id" UUID,
    "kind" "EquipmentKind" NOT NULL,
    "name" TEXT NOT NULL,
    "left_mm" INTEGER,
    "back_mm" INTEGER,
    "depth_mm" INTEGER,
    "facing_deg" DOUBLE PRECISION,
    "runs" TEXT NOT NULL DEFAULT '',
    "setpoint" DOUBLE PRECISION,
    "setpoint_unit" TEXT NOT NULL DEFAULT '',
    "reservoir_l" DOUBLE PRECISION,
    "use_l_per_day" DOUBLE PRECISION,
    "filled_at" TIMESTAMPTZ(3),
    "filled_l" DOUBLE PRECISION,
    "holds" TEXT NOT NULL DEFAULT '',
    "strength_code" TEXT,
    "strength" DOUBLE PRECISION,
    "service_every_days" DOUBLE PRECISION,
    "test_every_days" DOUBLE PRECISION,
    "seen_running_at" TIMESTAMPTZ(3),
    "seen_running_by_id" UUID,
    "note" TEXT NOT NULL DEFAULT '',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "equipment_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "upkeep" (
    "id" UUID NOT NULL,
    "equipment_id" UUID,
    "circuit_id" UUID,
    "work" "UpkeepWork" NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "upkeep_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "switched_off" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "tank_id" UUID,
    "equipment_id" UUID,
    "circuit_id" UUID,
    "feeding_id" UUID,
    "thing" "OffThing" NOT NULL,
    "what" TEXT NOT NULL,
    "why" TEXT NOT NULL,
    "off_at" TIMESTAMPTZ(3) NOT NULL,
    "due_at" TIMESTAMPTZ(3) NOT NULL,
    "late_at" TIMESTAMPTZ(3) NOT NULL,
    "on_return" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "keeper_id" UUID,
    "offered_to_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "seen_running_at" TIMESTAMPTZ(3),
    "seen_running_by_id" UUID,
    "seen" TEXT NOT NULL DEFAULT '',
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "switched_off_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "off_time" (
    "thing" "OffThing" NOT NULL,
    "due_min" INTEGER NOT NULL,
    "late_min" INTEGER NOT NULL,
    "reason" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "off_time_pkey" PRIMARY KEY ("thing")
);

-- CreateTable
CREATE TABLE "fault" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "equipment_id" UUID,
    "seen" TEXT NOT NULL,
    "noted_at" TIMESTAMPTZ(3) NOT NULL,
    "account_id" UUID,
    "round_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "mended_at" TIMESTAMPTZ(3),
    "mended_by_id" UUID,
    "mended" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "fault_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "system_event" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "kind" "EventKind" NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "system_event_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "circuit_site_id_name_key" ON "circuit"("site_id", "name");

-- CreateIndex
CREATE UNIQUE INDEX "equipment_lamp_id_key" ON "equipment"("lamp_id");

-- CreateIndex
CREATE INDEX "equipment_system_id_idx" ON "equipment"("system_id");

-- CreateIndex
CREATE INDEX "equipment_tank_id_idx" ON "equipment"("tank_id");

-- CreateIndex
CREATE INDEX "equipment_circuit_id_idx" ON "equipment"("circuit_id");

-- CreateIndex
CREATE INDEX "upkeep_equipment_id_at_idx" ON "upkeep"("equipment_id", "at");

-- CreateIndex
CREATE INDEX "upkeep_circuit_id_at_idx" ON "upkeep"("circuit_id", "at");

-- CreateIndex
CREATE UNIQUE INDEX "switched_off_feeding_id_key" ON "switched_off"("feeding_id");

-- CreateIndex
CREATE INDEX "switched_off_system_id_off_at_idx" ON "switched_off"("system_id", "off_at");

-- CreateIndex
CREATE INDEX "fault_system_id_noted_at_idx" ON "fault"("system_id", "noted_at");

-- CreateIndex
CREATE INDEX "system_event_system_id_at_idx" ON "system_event"("system_id", "at");

-- AddForeignKey
ALTER TABLE "circuit" ADD CONSTRAINT "circuit_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "equipment" ADD CONSTRAINT "equipment_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "equipment" ADD CONSTRAINT "equipment_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "equipment" ADD CONSTRAINT "equipment_circuit_id_fkey" FOREIGN KEY ("circuit_id") REFERENCES "circuit"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "equipment" ADD CONSTRAINT "equipment_lamp_id_fkey" FOREIGN KEY ("lamp_id") REFERENCES "lamp"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "equipment" ADD CONSTRAINT "equipment_part_of_id_fkey" FOREIGN KEY ("part_of_id") REFERENCES "equipment"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "equipment" ADD CONSTRAINT "equipment_strength_code_fkey" FOREIGN KEY ("strength_code") REFERENCES "quantity"("code") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "upkeep" ADD CONSTRAINT "upkeep_equipment_id_fkey" FOREIGN KEY ("equipment_id") REFERENCES "equipment"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "upkeep" ADD CONSTRAINT "upkeep_circuit_id_fkey" FOREIGN KEY ("circuit_id") REFERENCES "circuit"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "switched_off" ADD CONSTRAINT "switched_off_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "switched_off" ADD CONSTRAINT "switched_off_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "switched_off" ADD CONSTRAINT "switched_off_equipment_id_fkey" FOREIGN KEY ("equipment_id") REFERENCES "equipment"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "switched_off" ADD CONSTRAINT "switched_off_circuit_id_fkey" FOREIGN KEY ("circuit_id") REFERENCES "circuit"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "switched_off" ADD CONSTRAINT "switched_off_feeding_id_fkey" FOREIGN KEY ("feeding_id") REFERENCES "feeding"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "fault" ADD CONSTRAINT "fault_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "fault" ADD CONSTRAINT "fault_equipment_id_fkey" FOREIGN KEY ("equipment_id") REFERENCES "equipment"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "system_event" ADD CONSTRAINT "system_event_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- ------------------------------------------------------------ what the schema cannot say

-- The pumps of the tanks are equipment.
INSERT INTO equipment (id, system_id, tank_id, kind, name, left_mm, back_mm, depth_mm, facing_deg, runs, note, removed_at, version)
SELECT pump.id, tank.system_id, tank_id, 'wave_pump', pump.name, left_mm, back_mm, depth_mm, facing_deg, runs, pump.note, removed_at, pump.version
  FROM pump JOIN tank ON tank.id = pump.tank_id;
DROP TABLE pump;

-- A lamp is equipment: its row there is made with it and follows its name and its tank.
CREATE FUNCTION lamp_is_equipment() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  INSERT INTO equipment (id, system_id, tank_id, lamp_id, kind, name)
  SELECT gen_random_uuid(), tank.system_id, tank.id, NEW.id, 'lamp', NEW.name FROM tank WHERE tank.id = NEW.tank_id
  ON CONFLICT (lamp_id) DO UPDATE SET name = excluded.name, tank_id = excluded.tank_id, system_id = excluded.system_id;
  RETURN NULL;
END $$;
CREATE TRIGGER lamp_is_equipment AFTER INSERT OR UPDATE OF name, tank_id ON lamp FOR EACH ROW EXECUTE FUNCTION lamp_is_equipment();
INSERT INTO equipment (id, system_id, tank_id, lamp_id, kind, name)
SELECT gen_random_uuid(), tank.system_id, tank.id, lamp.id, 'lamp', lamp.name FROM lamp JOIN tank ON tank.id = lamp.tank_id;

ALTER TABLE equipment
  ADD CONSTRAINT equipment_lamp CHECK (lamp_id IS NULL OR kind = 'lamp'),
  ADD CONSTRAINT equipment_name CHECK (name <> ''),
  ADD CONSTRAINT equipment_place CHECK ((left_mm IS NULL) = (back_mm IS NULL)),
  ADD CONSTRAINT equipment_setpoint CHECK (setpoint IS NULL OR setpoint_unit <> ''),
  ADD CONSTRAINT equipment_reservoir CHECK (reservoir_l > 0 AND use_l_per_day > 0 AND filled_l >= 0 AND (filled_at IS NULL) = (filled_l IS NULL)),
  ADD CONSTRAINT equipment_strength CHECK (strength > 0 AND (strength_code IS NULL) = (strength IS NULL)),
  ADD CONSTRAINT equipment_periods CHECK (service_every_days > 0 AND test_every_days > 0),
  ADD CONSTRAINT equipment_part CHECK (part_of_id <> id);
ALTER TABLE circuit
  ADD CONSTRAINT circuit_name CHECK (name <> ''),
  ADD CONSTRAINT circuit_period CHECK (test_every_days > 0);
ALTER TABLE upkeep ADD CONSTRAINT upkeep_one_thing CHECK (num_nonnulls(equipment_id, circuit_id) = 1);
ALTER TABLE off_time ADD CONSTRAINT off_time_order CHECK (due_min > 0 AND late_min >= due_min);
ALTER TABLE switched_off
  ADD CONSTRAINT switched_off_words CHECK (what <> '' AND why <> ''),
  ADD CONSTRAINT switched_off_order CHECK (due_at > off_at AND late_at >= due_at),
  ADD CONSTRAINT switched_off_seen CHECK (seen_running_at >= off_at),
  ADD CONSTRAINT switched_off_void CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE fault
  ADD CONSTRAINT fault_seen CHECK (seen <> ''),
  ADD CONSTRAINT fault_mended CHECK ((mended_at IS NULL) = (mended = ''));
ALTER TABLE system_event ADD CONSTRAINT system_event_void CHECK ((voided_at IS NULL) = (void_reason IS NULL));

-- A device is off once at a time.
CREATE UNIQUE INDEX switched_off_once ON switched_off (equipment_id) WHERE seen_running_at IS NULL AND voided_at IS NULL;

-- What the watch reads of them leaves its mark.
DO $$
DECLARE
  kind record;
BEGIN
  FOR kind IN SELECT * FROM (VALUES
    ('switched_off', 'mark_system(''switched_off'')'),
    ('fault', 'mark_system(''fault'')'),
    ('equipment', 'mark_system(''equipment'')'),
    ('system_event', 'mark_system(''system_event'')')) AS marked(name, act)
  LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION %s',
      kind.name || '_facts_added', kind.name, kind.act);
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING OLD TABLE AS former NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION %s',
      kind.name || '_facts_changed', kind.name, kind.act);
    EXECUTE format('CREATE TRIGGER %I AFTER DELETE ON %I REFERENCING OLD TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION %s',
      kind.name || '_facts_gone', kind.name, kind.act);
  END LOOP;
END $$;
