-- CreateEnum
CREATE TYPE "SizeMeasure" AS ENUM ('length_mm', 'area_cm2', 'mass_g');

-- AlterTable
ALTER TABLE "cut" ADD COLUMN     "against" TEXT[] DEFAULT ARRAY[]::TEXT[],
ADD COLUMN     "cut_by" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "despite" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "dip" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "minutes_out" DOUBLE PRECISION,
ADD COLUMN     "tool" TEXT NOT NULL DEFAULT '';

-- CreateTable
CREATE TABLE "healing_look" (
    "id" UUID NOT NULL,
    "cut_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "alive" INTEGER NOT NULL,
    "healed" INTEGER,
    "dead" INTEGER NOT NULL DEFAULT 0,
    "missing" INTEGER NOT NULL DEFAULT 0,
    "note" TEXT NOT NULL DEFAULT '',
    "ledger_entry_id" UUID,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "healing_look_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "size_measurement" (
    "id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "measure" "SizeMeasure" NOT NULL,
    "sizes" DOUBLE PRECISION[],
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "size_measurement_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "healing_look_ledger_entry_id_key" ON "healing_look"("ledger_entry_id");

-- CreateIndex
CREATE INDEX "healing_look_cut_id_at_idx" ON "healing_look"("cut_id", "at");

-- CreateIndex
CREATE INDEX "size_measurement_lot_id_at_idx" ON "size_measurement"("lot_id", "at");

-- AddForeignKey
ALTER TABLE "healing_look" ADD CONSTRAINT "healing_look_cut_id_fkey" FOREIGN KEY ("cut_id") REFERENCES "cut"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "healing_look" ADD CONSTRAINT "healing_look_ledger_entry_id_fkey" FOREIGN KEY ("ledger_entry_id") REFERENCES "ledger_entry"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "healing_look" ADD CONSTRAINT "healing_look_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "size_measurement" ADD CONSTRAINT "size_measurement_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "size_measurement" ADD CONSTRAINT "size_measurement_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What counts and sizes can be.
ALTER TABLE cut
  ADD CONSTRAINT cut_minutes_out CHECK (minutes_out IS NULL OR minutes_out BETWEEN 0 AND 1440),
  ADD CONSTRAINT cut_despite CHECK (cardinality(against) = 0 OR despite <> '');
ALTER TABLE healing_look
  ADD CONSTRAINT healing_look_counts CHECK (alive >= 0 AND dead >= 0 AND missing >= 0 AND (healed IS NULL OR healed BETWEEN 0 AND alive)),
  ADD CONSTRAINT healing_look_void CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE size_measurement
  ADD CONSTRAINT size_measurement_sizes CHECK (cardinality(sizes) BETWEEN 1 AND 200 AND 0 < ALL (sizes) AND 'Infinity' > ALL (sizes)),
  ADD CONSTRAINT size_measurement_void CHECK ((voided_at IS NULL) = (void_reason IS NULL));
