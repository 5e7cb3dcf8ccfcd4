-- AlterTable
ALTER TABLE "method" ADD COLUMN     "every_minutes" DOUBLE PRECISION,
ADD COLUMN     "laboratory" TEXT NOT NULL DEFAULT '';

-- AlterTable
ALTER TABLE "kit" ADD COLUMN     "uses" INTEGER;

-- AlterTable
ALTER TABLE "reading" ADD COLUMN     "batch" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "import_id" UUID;

-- CreateTable
CREATE TABLE "correction" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "quantity_code" TEXT NOT NULL,
    "substance" TEXT NOT NULL,
    "basis" JSONB NOT NULL,
    "reading_id" UUID NOT NULL,
    "from_value" DOUBLE PRECISION NOT NULL,
    "target_value" DOUBLE PRECISION NOT NULL,
    "daily_cap" DOUBLE PRECISION NOT NULL,
    "cap_source" TEXT NOT NULL,
    "volume_l" DOUBLE PRECISION NOT NULL,
    "reason" TEXT NOT NULL DEFAULT '',
    "starts_on" DATE NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "finished_at" TIMESTAMPTZ(3),
    "stopped_at" TIMESTAMPTZ(3),
    "stop_reason" TEXT,
    "revises_id" UUID,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "correction_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "correction_step" (
    "id" UUID NOT NULL,
    "correction_id" UUID NOT NULL,
    "position" INTEGER NOT NULL,
    "due_on" DATE NOT NULL,
    "amount" DOUBLE PRECISION NOT NULL,
    "unit" TEXT NOT NULL,
    "expected_after" DOUBLE PRECISION NOT NULL,
    "retest" BOOLEAN NOT NULL DEFAULT false,
    "done_at" TIMESTAMPTZ(3),
    "done_by_id" UUID,
    "dose_id" UUID,
    "water_change_id" UUID,
    "note" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "correction_step_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "routine" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "work" TEXT NOT NULL,
    "quantity_code" TEXT,
    "detail" JSONB NOT NULL,
    "every_days" DOUBLE PRECISION NOT NULL,
    "starts_on" DATE NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "ended_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "routine_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "import" (
    "id" UUID NOT NULL,
    "file_name" TEXT NOT NULL,
    "content" BYTEA NOT NULL,
    "reading" JSONB NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "accepted_at" TIMESTAMPTZ(3),
    "taken" INTEGER NOT NULL DEFAULT 0,
    "refused" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "import_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "correction_revises_id_key" ON "correction"("revises_id");

-- CreateIndex
CREATE INDEX "correction_system_id_quantity_code_idx" ON "correction"("system_id", "quantity_code");

-- CreateIndex
CREATE UNIQUE INDEX "correction_step_dose_id_key" ON "correction_step"("dose_id");

-- CreateIndex
CREATE UNIQUE INDEX "correction_step_water_change_id_key" ON "correction_step"("water_change_id");

-- CreateIndex
CREATE UNIQUE INDEX "correction_step_correction_id_position_key" ON "correction_step"("correction_id", "position");

-- CreateIndex
CREATE INDEX "routine_system_id_idx" ON "routine"("system_id");

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_import_id_fkey" FOREIGN KEY ("import_id") REFERENCES "import"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "correction" ADD CONSTRAINT "correction_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "correction" ADD CONSTRAINT "correction_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "correction" ADD CONSTRAINT "correction_reading_id_fkey" FOREIGN KEY ("reading_id") REFERENCES "reading"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "correction" ADD CONSTRAINT "correction_revises_id_fkey" FOREIGN KEY ("revises_id") REFERENCES "correction"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "correction_step" ADD CONSTRAINT "correction_step_correction_id_fkey" FOREIGN KEY ("correction_id") REFERENCES "correction"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "correction_step" ADD CONSTRAINT "correction_step_dose_id_fkey" FOREIGN KEY ("dose_id") REFERENCES "dose"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "correction_step" ADD CONSTRAINT "correction_step_water_change_id_fkey" FOREIGN KEY ("water_change_id") REFERENCES "water_change"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "routine" ADD CONSTRAINT "routine_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "routine" ADD CONSTRAINT "routine_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE SET NULL ON UPDATE CASCADE;

-- ------------------------------------------------------------ what the schema cannot say

ALTER TABLE method ADD CONSTRAINT method_every_positive CHECK (every_minutes > 0);
ALTER TABLE kit ADD CONSTRAINT kit_uses_positive CHECK (uses > 0);

ALTER TABLE correction ADD CONSTRAINT correction_goes_somewhere CHECK (target_value <> from_value),
  ADD CONSTRAINT correction_cap_positive CHECK (daily_cap > 0 AND volume_l > 0),
  ADD CONSTRAINT correction_ends_once CHECK (finished_at IS NULL OR stopped_at IS NULL),
  ADD CONSTRAINT correction_stop_reason CHECK ((stopped_at IS NULL) = (stop_reason IS NULL)),
  ADD CONSTRAINT correction_not_own CHECK (revises_id <> id);
CREATE UNIQUE INDEX correction_one_at_a_time ON correction (system_id, quantity_code) WHERE finished_at IS NULL AND stopped_at IS NULL;

ALTER TABLE correction_step ADD CONSTRAINT correction_step_amount CHECK (amount > 0 AND amount < 'Infinity'),
  ADD CONSTRAINT correction_step_done_by_something CHECK (
    CASE WHEN done_at IS NULL THEN dose_id IS NULL AND water_change_id IS NULL
         ELSE num_nonnulls(dose_id, water_change_id) = 1 END);

-- What a correction was planned with never changes, nor a step that was done: it is stopped and revised instead.
CREATE FUNCTION keep_correction() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' OR (NEW.system_id, NEW.quantity_code, NEW.substance, NEW.reading_id, NEW.from_value, NEW.target_value, NEW.daily_cap, NEW.volume_l, NEW.starts_on)
     IS DISTINCT FROM (OLD.system_id, OLD.quantity_code, OLD.substance, OLD.reading_id, OLD.from_value, OLD.target_value, OLD.daily_cap, OLD.volume_l, OLD.starts_on) THEN
    RAISE EXCEPTION 'correction_kept: a planned correction is not changed; stop or revise it' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'correction_kept';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER correction_kept BEFORE UPDATE OR DELETE ON correction FOR EACH ROW EXECUTE FUNCTION keep_correction();

CREATE FUNCTION keep_correction_step() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' OR OLD.done_at IS NOT NULL OR (NEW.correction_id, NEW.position, NEW.amount, NEW.unit, NEW.expected_after)
     IS DISTINCT FROM (OLD.correction_id, OLD.position, OLD.amount, OLD.unit, OLD.expected_after) THEN
    RAISE EXCEPTION 'correction_step_kept: a step of a correction is done once and not changed' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'correction_step_kept';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER correction_step_kept BEFORE UPDATE OR DELETE ON correction_step FOR EACH ROW EXECUTE FUNCTION keep_correction_step();

ALTER TABLE routine ADD CONSTRAINT routine_work CHECK (work IN ('test', 'water_change', 'dose', 'feeding')),
  ADD CONSTRAINT routine_every CHECK (every_days > 0),
  ADD CONSTRAINT routine_quantity CHECK (work <> 'test' OR quantity_code IS NOT NULL);
CREATE UNIQUE INDEX routine_one_test ON routine (system_id, quantity_code) WHERE work = 'test' AND ended_at IS NULL;
CREATE UNIQUE INDEX routine_one_water_change ON routine (system_id) WHERE work = 'water_change' AND ended_at IS NULL;
