-- AlterTable
ALTER TABLE "attached_file" ADD COLUMN     "delivery_id" UUID;

-- CreateTable
CREATE TABLE "delivery" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "supplier" TEXT NOT NULL,
    "came_at" TIMESTAMPTZ(3) NOT NULL,
    "hours" DOUBLE PRECISION,
    "box_deg_c" DOUBLE PRECISION,
    "box_salinity" DOUBLE PRECISION,
    "note" TEXT NOT NULL DEFAULT '',
    "claim_hours" DOUBLE PRECISION,
    "claimed_at" TIMESTAMPTZ(3),
    "claim_note" TEXT NOT NULL DEFAULT '',
    "claim_result" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "delivery_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "delivery_line" (
    "id" UUID NOT NULL,
    "delivery_id" UUID NOT NULL,
    "position" INTEGER NOT NULL,
    "name" TEXT NOT NULL,
    "lot_id" UUID,
    "ordered" INTEGER,
    "invoiced" INTEGER,
    "counted" INTEGER NOT NULL,
    "arrived_dead" INTEGER NOT NULL,
    "light_known" TEXT NOT NULL,
    "light_par" DOUBLE PRECISION,

    CONSTRAINT "delivery_line_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "delivery_site_id_came_at_idx" ON "delivery"("site_id", "came_at");

-- CreateIndex
CREATE UNIQUE INDEX "delivery_line_lot_id_key" ON "delivery_line"("lot_id");

-- CreateIndex
CREATE UNIQUE INDEX "delivery_line_delivery_id_position_key" ON "delivery_line"("delivery_id", "position");

-- CreateIndex
CREATE INDEX "attached_file_delivery_id_idx" ON "attached_file"("delivery_id");

-- AddForeignKey
ALTER TABLE "attached_file" ADD CONSTRAINT "attached_file_delivery_id_fkey" FOREIGN KEY ("delivery_id") REFERENCES "delivery"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "delivery" ADD CONSTRAINT "delivery_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "delivery" ADD CONSTRAINT "delivery_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "delivery_line" ADD CONSTRAINT "delivery_line_delivery_id_fkey" FOREIGN KEY ("delivery_id") REFERENCES "delivery"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "delivery_line" ADD CONSTRAINT "delivery_line_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

ALTER TABLE delivery
  ADD CONSTRAINT delivery_claim CHECK (claimed_at IS NOT NULL OR (claim_note = '' AND claim_result = '')),
  ADD CONSTRAINT delivery_figures CHECK (hours > 0 AND claim_hours > 0 AND box_salinity >= 0);
ALTER TABLE delivery_line
  ADD CONSTRAINT delivery_line_counts CHECK (counted >= 0 AND arrived_dead BETWEEN 0 AND counted AND ordered >= 0 AND invoiced >= 0),
  ADD CONSTRAINT delivery_line_light CHECK (light_known IN ('unknown', 'stated', 'measured') AND (light_known = 'unknown') = (light_par IS NULL)),
  ADD CONSTRAINT delivery_line_lot CHECK (lot_id IS NOT NULL OR counted = 0);
ALTER TABLE attached_file
  DROP CONSTRAINT attached_file_to_one,
  ADD CONSTRAINT attached_file_to_one CHECK (num_nonnulls(lot_id, system_id, equipment_id, sales_order_id, delivery_id) = 1);

-- The site of a delivery's lines in the journal.
DO $$
BEGIN
  EXECUTE replace(pg_get_functiondef('site_of(text, uuid)'::regprocedure), 'WHEN ''digest'' THEN',
    'WHEN ''delivery'' THEN (SELECT site_id FROM delivery WHERE id = sought) WHEN ''digest'' THEN');
END $$;
