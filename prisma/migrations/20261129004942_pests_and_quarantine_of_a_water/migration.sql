-- AlterTable
ALTER TABLE "tank" ADD COLUMN     "own_water" TEXT NOT NULL DEFAULT '';

-- CreateTable
CREATE TABLE "pest_watch" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "tank_id" UUID,
    "pest" TEXT NOT NULL,
    "opened_at" TIMESTAMPTZ(3) NOT NULL,
    "opened_why" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "ended_at" TIMESTAMPTZ(3),
    "ended_why" TEXT NOT NULL DEFAULT '',
    "ended_by_id" UUID,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "pest_watch_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "pest_sighting" (
    "condition_id" UUID NOT NULL,
    "watch_id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "counted" INTEGER,

    CONSTRAINT "pest_sighting_pkey" PRIMARY KEY ("condition_id")
);

-- CreateTable
CREATE TABLE "pest_look" (
    "id" UUID NOT NULL,
    "watch_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "found" INTEGER NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "pest_look_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "pest_treatment" (
    "id" UUID NOT NULL,
    "watch_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "product" TEXT NOT NULL,
    "substance" TEXT NOT NULL DEFAULT '',
    "dose_a_litre" DOUBLE PRECISION,
    "dose_unit" TEXT NOT NULL DEFAULT '',
    "litres" DOUBLE PRECISION,
    "minutes" DOUBLE PRECISION NOT NULL,
    "counted_before" INTEGER,
    "not_for" TEXT NOT NULL DEFAULT '',
    "label_low" DOUBLE PRECISION,
    "label_high" DOUBLE PRECISION,
    "reason" TEXT NOT NULL DEFAULT '',
    "again_on" DATE,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "pest_treatment_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "pest_treatment_lot" (
    "treatment_id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,

    CONSTRAINT "pest_treatment_lot_pkey" PRIMARY KEY ("treatment_id","lot_id")
);

-- CreateTable
CREATE TABLE "kept_apart_reason" (
    "id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "watch_id" UUID,
    "quarantine_id" UUID,
    "act" TEXT NOT NULL,
    "reason" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "account_id" UUID,

    CONSTRAINT "kept_apart_reason_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "quarantine" (
    "id" UUID NOT NULL,
    "tank_id" UUID NOT NULL,
    "purpose" TEXT NOT NULL,
    "pest" TEXT NOT NULL DEFAULT '',
    "until" TEXT NOT NULL DEFAULT '',
    "days" INTEGER NOT NULL,
    "started_at" TIMESTAMPTZ(3) NOT NULL,
    "counts_from" TIMESTAMPTZ(3) NOT NULL,
    "restarted_by" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "ended_at" TIMESTAMPTZ(3),
    "ended_why" TEXT NOT NULL DEFAULT '',
    "ended_by_id" UUID,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "quarantine_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "pest_watch_system_id_opened_at_idx" ON "pest_watch"("system_id", "opened_at");

-- CreateIndex
CREATE INDEX "pest_sighting_watch_id_idx" ON "pest_sighting"("watch_id");

-- CreateIndex
CREATE INDEX "pest_sighting_lot_id_idx" ON "pest_sighting"("lot_id");

-- CreateIndex
CREATE INDEX "pest_look_watch_id_at_idx" ON "pest_look"("watch_id", "at");

-- CreateIndex
CREATE INDEX "pest_treatment_watch_id_at_idx" ON "pest_treatment"("watch_id", "at");

-- CreateIndex
CREATE INDEX "kept_apart_reason_watch_id_idx" ON "kept_apart_reason"("watch_id");

-- CreateIndex
CREATE INDEX "kept_apart_reason_quarantine_id_idx" ON "kept_apart_reason"("quarantine_id");

-- CreateIndex
CREATE INDEX "quarantine_tank_id_started_at_idx" ON "quarantine"("tank_id", "started_at");

-- AddForeignKey
ALTER TABLE "pest_watch" ADD CONSTRAINT "pest_watch_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_watch" ADD CONSTRAINT "pest_watch_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_watch" ADD CONSTRAINT "pest_watch_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_watch" ADD CONSTRAINT "pest_watch_ended_by_id_fkey" FOREIGN KEY ("ended_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_sighting" ADD CONSTRAINT "pest_sighting_condition_id_fkey" FOREIGN KEY ("condition_id") REFERENCES "condition"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_sighting" ADD CONSTRAINT "pest_sighting_watch_id_fkey" FOREIGN KEY ("watch_id") REFERENCES "pest_watch"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_sighting" ADD CONSTRAINT "pest_sighting_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_look" ADD CONSTRAINT "pest_look_watch_id_fkey" FOREIGN KEY ("watch_id") REFERENCES "pest_watch"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_look" ADD CONSTRAINT "pest_look_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_treatment" ADD CONSTRAINT "pest_treatment_watch_id_fkey" FOREIGN KEY ("watch_id") REFERENCES "pest_watch"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_treatment" ADD CONSTRAINT "pest_treatment_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_treatment_lot" ADD CONSTRAINT "pest_treatment_lot_treatment_id_fkey" FOREIGN KEY ("treatment_id") REFERENCES "pest_treatment"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pest_treatment_lot" ADD CONSTRAINT "pest_treatment_lot_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kept_apart_reason" ADD CONSTRAINT "kept_apart_reason_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kept_apart_reason" ADD CONSTRAINT "kept_apart_reason_watch_id_fkey" FOREIGN KEY ("watch_id") REFERENCES "pest_watch"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kept_apart_reason" ADD CONSTRAINT "kept_apart_reason_quarantine_id_fkey" FOREIGN KEY ("quarantine_id") REFERENCES "quarantine"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kept_apart_reason" ADD CONSTRAINT "kept_apart_reason_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "quarantine" ADD CONSTRAINT "quarantine_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "quarantine" ADD CONSTRAINT "quarantine_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "quarantine" ADD CONSTRAINT "quarantine_ended_by_id_fkey" FOREIGN KEY ("ended_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

ALTER TABLE pest_watch
  ADD CONSTRAINT pest_watch_ended CHECK ((ended_at IS NULL) = (ended_why = '') AND (ended_at IS NULL OR ended_at >= opened_at)),
  ADD CONSTRAINT pest_watch_pest CHECK (pest <> '');
CREATE UNIQUE INDEX pest_watch_one_open ON pest_watch (system_id, coalesce(tank_id, '00000000-0000-0000-0000-000000000000'), pest)
  WHERE ended_at IS NULL;
ALTER TABLE pest_sighting ADD CONSTRAINT pest_sighting_counted CHECK (counted IS NULL OR counted > 0);
ALTER TABLE pest_look
  ADD CONSTRAINT pest_look_found CHECK (found >= 0),
  ADD CONSTRAINT pest_look_void CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE pest_treatment
  ADD CONSTRAINT pest_treatment_sensible CHECK (product <> '' AND minutes > 0 AND (litres IS NULL OR litres > 0)
    AND (dose_a_litre IS NULL OR dose_a_litre > 0 AND dose_unit <> '') AND (counted_before IS NULL OR counted_before >= 0)),
  ADD CONSTRAINT pest_treatment_void CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE kept_apart_reason
  ADD CONSTRAINT kept_apart_reason_of_one CHECK (num_nonnulls(watch_id, quarantine_id) = 1 AND reason <> ''),
  ADD CONSTRAINT kept_apart_reason_act CHECK (act IN ('sale', 'hold', 'move', 'cut', 'tag'));
ALTER TABLE quarantine
  ADD CONSTRAINT quarantine_purpose CHECK (purpose IN ('observe', 'pests', 'heal', 'papers') AND days >= 0),
  ADD CONSTRAINT quarantine_ended CHECK ((ended_at IS NULL) = (ended_why = '') AND counts_from >= started_at);
CREATE UNIQUE INDEX quarantine_one_open ON quarantine (tank_id) WHERE ended_at IS NULL;

-- Whose water a lot lives in: where it stands, else where it stood last, else where the lot stands that it came from. The
-- tank is told where its water is its own.
CREATE VIEW lot_water AS
SELECT lot.id AS lot_id, here.system_id, here.water_tank_id, here.tank_id, here.stands
  FROM lot CROSS JOIN LATERAL (
    SELECT tank.system_id, CASE WHEN tank.own_water <> '' THEN tank.id END AS water_tank_id, tank.id AS tank_id,
           placement.to_at IS NULL AND placement.lot_id = lot.id AS stands
      FROM placement
      JOIN placement_slot ON placement_slot.placement_id = placement.id
      JOIN slot ON slot.id = placement_slot.slot_id
      JOIN rack ON rack.id = slot.rack_id
      JOIN tank ON tank.id = rack.tank_id
     WHERE placement.lot_id = ANY (ARRAY[lot.id, lot.parent_id])
     ORDER BY placement.lot_id = lot.id DESC, placement.to_at DESC NULLS FIRST, placement.from_at DESC LIMIT 1) AS here;

-- What can be undone right after it was saved.
DO $$
DECLARE name text;
BEGIN
  FOREACH name IN ARRAY ARRAY['pest_watch', 'pest_sighting', 'pest_look', 'pest_treatment', 'pest_treatment_lot', 'kept_apart_reason', 'quarantine'] LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT OR UPDATE OR DELETE ON %I FOR EACH ROW
      WHEN (coalesce(current_setting(''evenwater.change'', true), '''') <> '''') EXECUTE FUNCTION keep_row_for_undo()',
      'undo_' || name, name);
  END LOOP;
END $$;

-- What the watch reads of them leaves its mark.
CREATE FUNCTION mark_pests() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts('pest', (SELECT array_agg(DISTINCT system_id) FROM pest_watch WHERE id IN (SELECT watch_id FROM touched)));
  RETURN NULL;
END $$;
DO $$
DECLARE name text; act text;
BEGIN
  FOR name, act IN VALUES ('pest_watch', 'mark_system(''pest'')'), ('pest_sighting', 'mark_pests()'), ('pest_look', 'mark_pests()'), ('pest_treatment', 'mark_pests()') LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION %s', name || '_facts_added', name, act);
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING OLD TABLE AS former NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION %s', name || '_facts_changed', name, act);
    EXECUTE format('CREATE TRIGGER %I AFTER DELETE ON %I REFERENCING OLD TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION %s', name || '_facts_gone', name, act);
  END LOOP;
END $$;

-- Pests that were noted before and are there by the last look: their water is watched from now on.
WITH seen AS (
  SELECT DISTINCT ON (lot_id) id, lot_id, at, state FROM condition WHERE voided_at IS NULL ORDER BY lot_id, at DESC, id DESC),
here AS (
  SELECT seen.id, seen.lot_id, seen.at, place.system_id
    FROM seen JOIN (SELECT DISTINCT lot_id, system_id FROM lot_place) AS place ON place.lot_id = seen.lot_id WHERE seen.state = 'pest'),
opened AS (
  INSERT INTO pest_watch (id, system_id, pest, opened_at)
  SELECT gen_random_uuid(), system_id, 'unnamed', min(at) FROM here GROUP BY system_id RETURNING id, system_id)
INSERT INTO pest_sighting (condition_id, watch_id, lot_id)
SELECT here.id, opened.id, here.lot_id FROM here JOIN opened ON opened.system_id = here.system_id;

-- Whose water a tank's is does not change while that water is watched, or the watch would lose what it is about; a tank
-- stays a quarantine until the one in it has ended.
CREATE FUNCTION keep_water_of_tank() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF (NEW.own_water = '') <> (OLD.own_water = '') AND EXISTS (
    SELECT FROM pest_watch WHERE system_id = NEW.system_id AND ended_at IS NULL AND (tank_id IS NULL OR tank_id = NEW.id)) THEN
    RAISE EXCEPTION 'tank_water_watched: the water is under watch for a pest' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'tank_water_watched';
  END IF;
  IF OLD.quarantine AND NOT NEW.quarantine AND EXISTS (SELECT FROM quarantine WHERE tank_id = NEW.id AND ended_at IS NULL) THEN
    RAISE EXCEPTION 'tank_in_quarantine: a quarantine runs in the tank' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'tank_in_quarantine';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER tank_keeps_water BEFORE UPDATE OF own_water, quarantine ON tank FOR EACH ROW EXECUTE FUNCTION keep_water_of_tank();
