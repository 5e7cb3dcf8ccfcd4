-- AlterTable
ALTER TABLE "tank" ADD COLUMN     "quarantine" BOOLEAN NOT NULL DEFAULT false;

-- AlterTable
ALTER TABLE "rack" ADD COLUMN     "back_mm" INTEGER,
ADD COLUMN     "left_mm" INTEGER,
ADD COLUMN     "slope_deg" DOUBLE PRECISION NOT NULL DEFAULT 0,
ADD COLUMN     "slot_depth_mm" INTEGER,
ADD COLUMN     "slot_width_mm" INTEGER;

-- AlterTable
ALTER TABLE "lot" ADD COLUMN     "quarantine_until" DATE,
ADD COLUMN     "stays_put" BOOLEAN NOT NULL DEFAULT false;

-- AlterTable
ALTER TABLE "round_plan" ADD COLUMN     "chores" TEXT[] DEFAULT ARRAY[]::TEXT[];

-- CreateTable
CREATE TABLE "rack_stand" (
    "id" UUID NOT NULL,
    "rack_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "tank_id" UUID NOT NULL,
    "lamp_id" UUID,
    "depth_mm" INTEGER NOT NULL,
    "left_mm" INTEGER,
    "back_mm" INTEGER,
    "slope_deg" DOUBLE PRECISION NOT NULL DEFAULT 0,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,

    CONSTRAINT "rack_stand_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "pump" (
    "id" UUID NOT NULL,
    "tank_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "left_mm" INTEGER,
    "back_mm" INTEGER,
    "depth_mm" INTEGER,
    "facing_deg" DOUBLE PRECISION,
    "runs" TEXT NOT NULL DEFAULT '',
    "note" TEXT NOT NULL DEFAULT '',
    "removed_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "pump_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "acclimation" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "purpose" TEXT NOT NULL,
    "received" TEXT NOT NULL,
    "from_dli" DOUBLE PRECISION NOT NULL,
    "target_dli" DOUBLE PRECISION NOT NULL,
    "max_step_ratio" DOUBLE PRECISION NOT NULL,
    "dwell_days" DOUBLE PRECISION NOT NULL,
    "reason" TEXT NOT NULL DEFAULT '',
    "starts_on" DATE NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "paused_at" TIMESTAMPTZ(3),
    "pause_reason" TEXT,
    "ended_at" TIMESTAMPTZ(3),
    "end_reason" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "acclimation_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "acclimation_lot" (
    "acclimation_id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "ended_at" TIMESTAMPTZ(3),

    CONSTRAINT "acclimation_lot_pkey" PRIMARY KEY ("acclimation_id","lot_id")
);

-- CreateTable
CREATE TABLE "acclimation_step" (
    "id" UUID NOT NULL,
    "acclimation_id" UUID NOT NULL,
    "position" INTEGER NOT NULL,
    "due_on" DATE NOT NULL,
    "dli" DOUBLE PRECISION NOT NULL,
    "par" DOUBLE PRECISION,
    "lot_id" UUID,
    "slot_ids" UUID[],
    "lamp_id" UUID,
    "percent" DOUBLE PRECISION,
    "done_at" TIMESTAMPTZ(3),
    "done_by_id" UUID,
    "left_out_at" TIMESTAMPTZ(3),
    "note" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "acclimation_step_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "move_plan" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "ended_at" TIMESTAMPTZ(3),
    "end_reason" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "move_plan_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "planned_move" (
    "id" UUID NOT NULL,
    "plan_id" UUID NOT NULL,
    "position" INTEGER NOT NULL,
    "lot_id" UUID NOT NULL,
    "slot_ids" UUID[],
    "why" TEXT NOT NULL DEFAULT '',
    "done_at" TIMESTAMPTZ(3),
    "done_by_id" UUID,
    "placement_id" UUID,
    "left_out_at" TIMESTAMPTZ(3),
    "note" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "planned_move_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "photo" (
    "id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "round_entry_id" UUID,
    "taken_at" TIMESTAMPTZ(3) NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "width" INTEGER NOT NULL,
    "height" INTEGER NOT NULL,
    "image" BYTEA NOT NULL,
    "small" BYTEA NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "photo_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "hold" (
    "id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "pieces" INTEGER NOT NULL,
    "buyer" TEXT NOT NULL,
    "until" DATE NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "released_at" TIMESTAMPTZ(3),
    "release_reason" TEXT,

    CONSTRAINT "hold_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "sale" (
    "id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "pieces" INTEGER NOT NULL,
    "buyer" TEXT NOT NULL DEFAULT '',
    "at" TIMESTAMPTZ(3) NOT NULL,
    "ledger_entry_id" UUID NOT NULL,
    "tag_id" UUID,
    "hold_id" UUID,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "sale_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "round_plan_day" (
    "plan_id" UUID NOT NULL,
    "day" DATE NOT NULL,
    "cancelled" BOOLEAN NOT NULL DEFAULT false,
    "starts_at" TEXT,
    "assignee_id" UUID,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,

    CONSTRAINT "round_plan_day_pkey" PRIMARY KEY ("plan_id","day")
);

-- CreateTable
CREATE TABLE "digest_receiver" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "email" TEXT NOT NULL,
    "site_ids" UUID[],
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "stopped_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "digest_receiver_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "letter" (
    "id" UUID NOT NULL,
    "digest_id" UUID NOT NULL,
    "receiver_id" UUID NOT NULL,
    "message_id" TEXT NOT NULL,
    "raw" BYTEA NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "attempts" INTEGER NOT NULL DEFAULT 0,
    "last_error" TEXT NOT NULL DEFAULT '',
    "sent_at" TIMESTAMPTZ(3),
    "given_up_at" TIMESTAMPTZ(3),

    CONSTRAINT "letter_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "rack_stand_rack_id_at_key" ON "rack_stand"("rack_id", "at");

-- CreateIndex
CREATE INDEX "pump_tank_id_idx" ON "pump"("tank_id");

-- CreateIndex
CREATE INDEX "acclimation_lot_lot_id_idx" ON "acclimation_lot"("lot_id");

-- CreateIndex
CREATE INDEX "acclimation_step_acclimation_id_position_idx" ON "acclimation_step"("acclimation_id", "position");

-- CreateIndex
CREATE UNIQUE INDEX "planned_move_placement_id_key" ON "planned_move"("placement_id");

-- CreateIndex
CREATE INDEX "planned_move_lot_id_idx" ON "planned_move"("lot_id");

-- CreateIndex
CREATE UNIQUE INDEX "planned_move_plan_id_position_key" ON "planned_move"("plan_id", "position");

-- CreateIndex
CREATE INDEX "photo_lot_id_taken_at_idx" ON "photo"("lot_id", "taken_at");

-- CreateIndex
CREATE INDEX "hold_lot_id_idx" ON "hold"("lot_id");

-- CreateIndex
CREATE UNIQUE INDEX "sale_ledger_entry_id_key" ON "sale"("ledger_entry_id");

-- CreateIndex
CREATE UNIQUE INDEX "sale_hold_id_key" ON "sale"("hold_id");

-- CreateIndex
CREATE INDEX "sale_lot_id_idx" ON "sale"("lot_id");

-- CreateIndex
CREATE UNIQUE INDEX "digest_receiver_email_key" ON "digest_receiver"("email");

-- CreateIndex
CREATE UNIQUE INDEX "letter_message_id_key" ON "letter"("message_id");

-- CreateIndex
CREATE UNIQUE INDEX "letter_digest_id_receiver_id_key" ON "letter"("digest_id", "receiver_id");

-- AddForeignKey
ALTER TABLE "rack_stand" ADD CONSTRAINT "rack_stand_rack_id_fkey" FOREIGN KEY ("rack_id") REFERENCES "rack"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "pump" ADD CONSTRAINT "pump_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "acclimation_lot" ADD CONSTRAINT "acclimation_lot_acclimation_id_fkey" FOREIGN KEY ("acclimation_id") REFERENCES "acclimation"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "acclimation_lot" ADD CONSTRAINT "acclimation_lot_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "acclimation_step" ADD CONSTRAINT "acclimation_step_acclimation_id_fkey" FOREIGN KEY ("acclimation_id") REFERENCES "acclimation"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "planned_move" ADD CONSTRAINT "planned_move_plan_id_fkey" FOREIGN KEY ("plan_id") REFERENCES "move_plan"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "planned_move" ADD CONSTRAINT "planned_move_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "planned_move" ADD CONSTRAINT "planned_move_placement_id_fkey" FOREIGN KEY ("placement_id") REFERENCES "placement"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "photo" ADD CONSTRAINT "photo_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "hold" ADD CONSTRAINT "hold_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "sale" ADD CONSTRAINT "sale_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "sale" ADD CONSTRAINT "sale_ledger_entry_id_fkey" FOREIGN KEY ("ledger_entry_id") REFERENCES "ledger_entry"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "sale" ADD CONSTRAINT "sale_tag_id_fkey" FOREIGN KEY ("tag_id") REFERENCES "tag"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "sale" ADD CONSTRAINT "sale_hold_id_fkey" FOREIGN KEY ("hold_id") REFERENCES "hold"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round_plan_day" ADD CONSTRAINT "round_plan_day_plan_id_fkey" FOREIGN KEY ("plan_id") REFERENCES "round_plan"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "letter" ADD CONSTRAINT "letter_digest_id_fkey" FOREIGN KEY ("digest_id") REFERENCES "digest"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "letter" ADD CONSTRAINT "letter_receiver_id_fkey" FOREIGN KEY ("receiver_id") REFERENCES "digest_receiver"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- ------------------------------------------------------------ what the schema cannot say

ALTER TABLE rack ADD CONSTRAINT rack_slot_size CHECK (slot_width_mm > 0 AND slot_depth_mm > 0),
  ADD CONSTRAINT rack_slope CHECK (slope_deg BETWEEN -60 AND 60);
ALTER TABLE pump ADD CONSTRAINT pump_facing CHECK (facing_deg >= 0 AND facing_deg < 360);

-- Where each rack hangs today is its first stand.
INSERT INTO rack_stand (id, rack_id, at, tank_id, lamp_id, depth_mm, slope_deg)
SELECT gen_random_uuid(), id, created_at, tank_id, lamp_id, depth_mm, slope_deg FROM rack;

ALTER TABLE acclimation ADD CONSTRAINT acclimation_purpose CHECK (purpose IN ('brighter', 'dimmer', 'recovery')),
  ADD CONSTRAINT acclimation_received CHECK (received IN ('unknown', 'stated', 'measured', 'here')),
  ADD CONSTRAINT acclimation_figures CHECK (from_dli > 0 AND target_dli > 0 AND max_step_ratio > 1 AND dwell_days > 0),
  ADD CONSTRAINT acclimation_pause_reason CHECK ((paused_at IS NULL) = (pause_reason IS NULL)),
  ADD CONSTRAINT acclimation_end_reason CHECK ((ended_at IS NULL) = (end_reason IS NULL));
CREATE UNIQUE INDEX acclimation_lot_once ON acclimation_lot (lot_id) WHERE ended_at IS NULL;

CREATE FUNCTION copy_acclimation_end() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  SELECT ended_at INTO NEW.ended_at FROM acclimation WHERE id = NEW.acclimation_id;
  RETURN NEW;
END $$;
CREATE TRIGGER acclimation_lot_end BEFORE INSERT ON acclimation_lot FOR EACH ROW EXECUTE FUNCTION copy_acclimation_end();
CREATE FUNCTION spread_acclimation_end() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  UPDATE acclimation_lot SET ended_at = NEW.ended_at WHERE acclimation_id = NEW.id;
  RETURN NULL;
END $$;
CREATE TRIGGER acclimation_end AFTER UPDATE OF ended_at ON acclimation FOR EACH ROW EXECUTE FUNCTION spread_acclimation_end();

ALTER TABLE acclimation_step ADD CONSTRAINT acclimation_step_is_one_thing CHECK (
    (lot_id IS NOT NULL AND cardinality(slot_ids) > 0 AND lamp_id IS NULL AND percent IS NULL)
    OR (lot_id IS NULL AND lamp_id IS NOT NULL AND percent BETWEEN 0 AND 100)
    OR (lot_id IS NOT NULL AND cardinality(slot_ids) = 0 AND lamp_id IS NULL AND percent IS NULL AND done_at IS NULL)),
  ADD CONSTRAINT acclimation_step_ends_once CHECK (done_at IS NULL OR left_out_at IS NULL);
CREATE FUNCTION keep_done_step() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF OLD.done_at IS NOT NULL OR OLD.left_out_at IS NOT NULL THEN
    RAISE EXCEPTION 'step_done_once: a step is done once and then kept' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'step_done_once';
  END IF;
  RETURN coalesce(NEW, OLD);
END $$;
CREATE TRIGGER acclimation_step_kept BEFORE UPDATE OR DELETE ON acclimation_step FOR EACH ROW EXECUTE FUNCTION keep_done_step();

ALTER TABLE move_plan ADD CONSTRAINT move_plan_end_reason CHECK ((ended_at IS NULL) = (end_reason IS NULL));
ALTER TABLE planned_move ADD CONSTRAINT planned_move_goes_somewhere CHECK (cardinality(slot_ids) > 0),
  ADD CONSTRAINT planned_move_done CHECK ((done_at IS NULL) = (placement_id IS NULL) AND (done_at IS NULL OR left_out_at IS NULL));
CREATE TRIGGER planned_move_kept BEFORE UPDATE OR DELETE ON planned_move FOR EACH ROW EXECUTE FUNCTION keep_done_step();

ALTER TABLE photo ADD CONSTRAINT photo_size CHECK (width > 0 AND height > 0),
  ADD CONSTRAINT photo_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));

-- Pieces held for buyers never exceed what the lot has.
ALTER TABLE hold ADD CONSTRAINT hold_pieces CHECK (pieces > 0),
  ADD CONSTRAINT hold_release_reason CHECK ((released_at IS NULL) = (release_reason IS NULL));
CREATE FUNCTION keep_holds_within_lot() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE there integer; held integer;
BEGIN
  SELECT pieces INTO there FROM lot WHERE id = NEW.lot_id FOR UPDATE;
  SELECT coalesce(sum(pieces), 0) INTO held FROM hold WHERE lot_id = NEW.lot_id AND released_at IS NULL;
  IF held > there THEN
    RAISE EXCEPTION 'hold_within_lot: more pieces held than there are' USING ERRCODE = 'check_violation', CONSTRAINT = 'hold_within_lot';
  END IF;
  RETURN NULL;
END $$;
CREATE TRIGGER hold_within_lot AFTER INSERT OR UPDATE OF pieces ON hold FOR EACH ROW WHEN (NEW.released_at IS NULL) EXECUTE FUNCTION keep_holds_within_lot();
ALTER TABLE sale ADD CONSTRAINT sale_pieces CHECK (pieces > 0);

ALTER TABLE round_plan DROP CONSTRAINT round_plan_steps,
  ADD CONSTRAINT round_plan_steps CHECK (steps <@ ARRAY['look', 'test', 'feed', 'dose', 'clean', 'check'] AND cardinality(steps) > 0);
ALTER TABLE letter ADD CONSTRAINT letter_ends_once CHECK (sent_at IS NULL OR given_up_at IS NULL);
