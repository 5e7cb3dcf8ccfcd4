-- AlterTable
ALTER TABLE "equipment" ADD COLUMN     "reckoned_at" TIMESTAMPTZ(3),
ADD COLUMN     "reckoned_l" DOUBLE PRECISION;

-- AlterTable
ALTER TABLE "dose" ADD COLUMN     "doser_day" DATE,
ADD COLUMN     "doser_id" UUID,
ADD COLUMN     "doser_replaced" BOOLEAN NOT NULL DEFAULT false;

-- CreateTable
CREATE TABLE "container_level" (
    "id" UUID NOT NULL,
    "equipment_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "seen_l" DOUBLE PRECISION,
    "after_l" DOUBLE PRECISION NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "container_level_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "doser_plan" (
    "id" UUID NOT NULL,
    "equipment_id" UUID NOT NULL,
    "from_at" TIMESTAMPTZ(3) NOT NULL,
    "until_at" TIMESTAMPTZ(3),
    "per_day" DOUBLE PRECISION NOT NULL,
    "unit" TEXT NOT NULL,
    "substance" TEXT NOT NULL,
    "reason" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "doser_plan_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "doser_calibration" (
    "id" UUID NOT NULL,
    "equipment_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "ml" DOUBLE PRECISION NOT NULL,
    "runs" DOUBLE PRECISION NOT NULL,
    "per" TEXT NOT NULL,
    "again_days" DOUBLE PRECISION,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "doser_calibration_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "container_level_equipment_id_at_idx" ON "container_level"("equipment_id", "at");

-- CreateIndex
CREATE INDEX "doser_plan_equipment_id_from_at_idx" ON "doser_plan"("equipment_id", "from_at");

-- CreateIndex
CREATE INDEX "doser_calibration_equipment_id_at_idx" ON "doser_calibration"("equipment_id", "at");

-- CreateIndex
CREATE INDEX "dose_doser_id_doser_day_idx" ON "dose"("doser_id", "doser_day");

-- AddForeignKey
ALTER TABLE "container_level" ADD CONSTRAINT "container_level_equipment_id_fkey" FOREIGN KEY ("equipment_id") REFERENCES "equipment"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "container_level" ADD CONSTRAINT "container_level_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "dose" ADD CONSTRAINT "dose_doser_id_fkey" FOREIGN KEY ("doser_id") REFERENCES "equipment"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "doser_plan" ADD CONSTRAINT "doser_plan_equipment_id_fkey" FOREIGN KEY ("equipment_id") REFERENCES "equipment"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "doser_plan" ADD CONSTRAINT "doser_plan_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "doser_calibration" ADD CONSTRAINT "doser_calibration_equipment_id_fkey" FOREIGN KEY ("equipment_id") REFERENCES "equipment"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "doser_calibration" ADD CONSTRAINT "doser_calibration_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- Each day of a doser has one dose that counts, posted by the service itself.
ALTER TABLE dose
  ADD CONSTRAINT dose_of_doser CHECK ((doser_id IS NULL) = (doser_day IS NULL) AND (doser_id IS NULL OR num_nonnulls(account_id, access_key_id) = 0)),
  ADD CONSTRAINT dose_replaced_is_void CHECK (NOT doser_replaced OR voided_at IS NOT NULL);
CREATE UNIQUE INDEX dose_one_a_doser_and_day ON dose (doser_id, doser_day) WHERE voided_at IS NULL;

ALTER TABLE container_level ADD CONSTRAINT container_level_sensible CHECK (after_l >= 0 AND (seen_l IS NULL OR seen_l >= 0 AND seen_l <= after_l));
ALTER TABLE doser_calibration ADD CONSTRAINT doser_calibration_sensible
  CHECK (ml > 0 AND runs > 0 AND per IN ('minute', 'stroke') AND (again_days IS NULL OR again_days > 0));
ALTER TABLE doser_plan ADD CONSTRAINT doser_plan_sensible
  CHECK (per_day > 0 AND unit IN ('mL', 'minutes', 'strokes') AND (until_at IS NULL OR until_at >= from_at));
CREATE UNIQUE INDEX doser_plan_one_runs ON doser_plan (equipment_id) WHERE until_at IS NULL;

-- What was in containers when they were filled last.
INSERT INTO container_level (id, equipment_id, at, after_l, created_at)
SELECT gen_random_uuid(), id, filled_at, filled_l, filled_at FROM equipment WHERE filled_at IS NOT NULL AND filled_l IS NOT NULL;
