-- AlterEnum
-- This migration adds more than one value to an enum.
-- With PostgreSQL versions 11 and earlier, this is not possible
-- in a single migration. This can be worked around by creating
-- multiple migrations, each migration adding only one value to
-- the enum.


ALTER TYPE "ImportHolds" ADD VALUE 'doses';
ALTER TYPE "ImportHolds" ADD VALUE 'water_changes';
ALTER TYPE "ImportHolds" ADD VALUE 'feedings';
ALTER TYPE "ImportHolds" ADD VALUE 'upkeep';

-- AlterTable
ALTER TABLE "upkeep" ADD COLUMN     "done_by" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "import_id" UUID;

-- AlterTable
ALTER TABLE "water_change" ADD COLUMN     "done_by" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "import_id" UUID;

-- AlterTable
ALTER TABLE "dose" ADD COLUMN     "done_by" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "import_id" UUID;

-- AlterTable
ALTER TABLE "feeding" ADD COLUMN     "done_by" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "import_id" UUID;

-- CreateIndex
CREATE INDEX "upkeep_import_id_idx" ON "upkeep"("import_id");

-- CreateIndex
CREATE INDEX "water_change_import_id_idx" ON "water_change"("import_id");

-- CreateIndex
CREATE INDEX "dose_import_id_idx" ON "dose"("import_id");

-- CreateIndex
CREATE INDEX "feeding_import_id_idx" ON "feeding"("import_id");

-- AddForeignKey
ALTER TABLE "upkeep" ADD CONSTRAINT "upkeep_import_id_fkey" FOREIGN KEY ("import_id") REFERENCES "import"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "water_change" ADD CONSTRAINT "water_change_import_id_fkey" FOREIGN KEY ("import_id") REFERENCES "import"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "dose" ADD CONSTRAINT "dose_import_id_fkey" FOREIGN KEY ("import_id") REFERENCES "import"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "feeding" ADD CONSTRAINT "feeding_import_id_fkey" FOREIGN KEY ("import_id") REFERENCES "import"("id") ON DELETE SET NULL ON UPDATE CASCADE;
