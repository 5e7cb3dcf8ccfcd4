-- AlterTable
ALTER TABLE "system" ADD COLUMN     "stock_kind_id" UUID,
ADD COLUMN     "unchanged_since" TIMESTAMPTZ(3),
ADD COLUMN     "undosed_since" TIMESTAMPTZ(3);

-- AlterTable
ALTER TABLE "system_quantity" ADD COLUMN     "starting" BOOLEAN NOT NULL DEFAULT false;

-- AddForeignKey
ALTER TABLE "system" ADD CONSTRAINT "system_stock_kind_id_fkey" FOREIGN KEY ("stock_kind_id") REFERENCES "kind"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- A system that is there already and has no band gets none by itself: whether that was chosen is not known, and alerts out
-- of a band nobody has seen would come in a night. What it could start from is proposed on its page of targets.
ALTER TABLE system_quantity ADD CONSTRAINT system_quantity_starting CHECK (NOT starting OR band_low IS NOT NULL OR band_high IS NOT NULL);
