-- CreateEnum
CREATE TYPE "OrderStage" AS ENUM ('asked', 'held', 'packed', 'gone', 'settled', 'returned', 'cancelled');

-- AlterEnum
ALTER TYPE "LedgerReason" ADD VALUE 'returned';

-- AlterTable
ALTER TABLE "attached_file" ADD COLUMN     "sales_order_id" UUID;

-- AlterTable
ALTER TABLE "sale" ADD COLUMN     "void_reason" TEXT,
ADD COLUMN     "voided_at" TIMESTAMPTZ(3);

-- CreateTable
CREATE TABLE "sales_order" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "number" INTEGER NOT NULL,
    "buyer" TEXT NOT NULL DEFAULT '',
    "contact" TEXT NOT NULL DEFAULT '',
    "note" TEXT NOT NULL DEFAULT '',
    "free_line" TEXT NOT NULL DEFAULT '',
    "free_line_minor" INTEGER,
    "currency" TEXT,
    "hold_until" DATE NOT NULL,
    "stage" "OrderStage" NOT NULL DEFAULT 'asked',
    "version" INTEGER NOT NULL DEFAULT 1,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "sales_order_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "order_line" (
    "id" UUID NOT NULL,
    "order_id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "position" INTEGER NOT NULL,
    "pieces" INTEGER NOT NULL,
    "price_minor" INTEGER,
    "hold_id" UUID,
    "sale_id" UUID,
    "tag_id" UUID,
    "dead_on_arrival" INTEGER,
    "back_pieces" INTEGER NOT NULL DEFAULT 0,
    "written_off_pieces" INTEGER NOT NULL DEFAULT 0,
    "back_lot_id" UUID,

    CONSTRAINT "order_line_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "order_stage_change" (
    "id" UUID NOT NULL,
    "order_id" UUID NOT NULL,
    "from_stage" "OrderStage",
    "stage" "OrderStage" NOT NULL,
    "reason" TEXT NOT NULL DEFAULT '',
    "at" TIMESTAMPTZ(3) NOT NULL,
    "account_id" UUID,

    CONSTRAINT "order_stage_change_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "shipment" (
    "id" UUID NOT NULL,
    "order_id" UUID NOT NULL,
    "wall" TEXT NOT NULL,
    "length_mm" INTEGER,
    "width_mm" INTEGER,
    "bags" INTEGER,
    "litres_a_bag" DOUBLE PRECISION,
    "method" TEXT NOT NULL,
    "pack" TEXT NOT NULL,
    "carrier" TEXT NOT NULL,
    "hours" DOUBLE PRECISION,
    "start_deg_c" DOUBLE PRECISION,
    "coldest_deg_c" DOUBLE PRECISION,
    "warmest_deg_c" DOUBLE PRECISION,
    "claim_hours" DOUBLE PRECISION,
    "despite" TEXT NOT NULL DEFAULT '',
    "arrived_at" TIMESTAMPTZ(3),
    "late" BOOLEAN,
    "result_note" TEXT NOT NULL DEFAULT '',
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "shipment_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "permit_line" (
    "id" UUID NOT NULL,
    "order_id" UUID NOT NULL,
    "position" INTEGER NOT NULL,
    "species" TEXT NOT NULL,
    "pieces" INTEGER NOT NULL,
    "document" TEXT NOT NULL,
    "source_code" TEXT NOT NULL,

    CONSTRAINT "permit_line_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "sales_order_site_id_number_key" ON "sales_order"("site_id", "number");

-- CreateIndex
CREATE UNIQUE INDEX "order_line_hold_id_key" ON "order_line"("hold_id");

-- CreateIndex
CREATE UNIQUE INDEX "order_line_sale_id_key" ON "order_line"("sale_id");

-- CreateIndex
CREATE UNIQUE INDEX "order_line_tag_id_key" ON "order_line"("tag_id");

-- CreateIndex
CREATE INDEX "order_line_lot_id_idx" ON "order_line"("lot_id");

-- CreateIndex
CREATE UNIQUE INDEX "order_line_order_id_lot_id_key" ON "order_line"("order_id", "lot_id");

-- CreateIndex
CREATE INDEX "order_stage_change_order_id_at_idx" ON "order_stage_change"("order_id", "at");

-- CreateIndex
CREATE UNIQUE INDEX "shipment_order_id_key" ON "shipment"("order_id");

-- CreateIndex
CREATE INDEX "permit_line_order_id_idx" ON "permit_line"("order_id");

-- CreateIndex
CREATE INDEX "attached_file_sales_order_id_idx" ON "attached_file"("sales_order_id");

-- AddForeignKey
ALTER TABLE "attached_file" ADD CONSTRAINT "attached_file_sales_order_id_fkey" FOREIGN KEY ("sales_order_id") REFERENCES "sales_order"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "sales_order" ADD CONSTRAINT "sales_order_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "sales_order" ADD CONSTRAINT "sales_order_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "order_line" ADD CONSTRAINT "order_line_order_id_fkey" FOREIGN KEY ("order_id") REFERENCES "sales_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "order_line" ADD CONSTRAINT "order_line_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "order_line" ADD CONSTRAINT "order_line_hold_id_fkey" FOREIGN KEY ("hold_id") REFERENCES "hold"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "order_line" ADD CONSTRAINT "order_line_sale_id_fkey" FOREIGN KEY ("sale_id") REFERENCES "sale"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "order_line" ADD CONSTRAINT "order_line_tag_id_fkey" FOREIGN KEY ("tag_id") REFERENCES "tag"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "order_line" ADD CONSTRAINT "order_line_back_lot_id_fkey" FOREIGN KEY ("back_lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "order_stage_change" ADD CONSTRAINT "order_stage_change_order_id_fkey" FOREIGN KEY ("order_id") REFERENCES "sales_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "order_stage_change" ADD CONSTRAINT "order_stage_change_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "shipment" ADD CONSTRAINT "shipment_order_id_fkey" FOREIGN KEY ("order_id") REFERENCES "sales_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "permit_line" ADD CONSTRAINT "permit_line_order_id_fkey" FOREIGN KEY ("order_id") REFERENCES "sales_order"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- A stage of an order is never written over.
CREATE FUNCTION keep_order_stage() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'order_stage_kept: a stage of an order stays as it was written' USING ERRCODE = 'check_violation', CONSTRAINT = 'order_stage_kept';
END $$;
CREATE TRIGGER order_stage_kept BEFORE UPDATE ON order_stage_change FOR EACH ROW EXECUTE FUNCTION keep_order_stage();

ALTER TABLE sales_order
  ADD CONSTRAINT sales_order_number CHECK (number > 0),
  ADD CONSTRAINT sales_order_free_line CHECK (free_line_minor IS NULL OR (free_line <> '' AND currency IS NOT NULL));
ALTER TABLE order_line
  ADD CONSTRAINT order_line_pieces CHECK (pieces > 0),
  ADD CONSTRAINT order_line_price CHECK (price_minor >= 0),
  ADD CONSTRAINT order_line_dead CHECK (dead_on_arrival BETWEEN 0 AND pieces),
  ADD CONSTRAINT order_line_back CHECK (back_pieces >= 0 AND written_off_pieces >= 0 AND back_pieces + written_off_pieces <= pieces),
  ADD CONSTRAINT order_line_back_lot CHECK ((back_lot_id IS NULL) = (back_pieces = 0)),
  ADD CONSTRAINT order_line_held_or_sold CHECK (hold_id IS NULL OR sale_id IS NULL);
ALTER TABLE shipment
  ADD CONSTRAINT shipment_wall CHECK (wall IN ('foam', 'thicker', 'unknown')),
  ADD CONSTRAINT shipment_method CHECK (method IN ('submerged', 'damp', 'other')),
  ADD CONSTRAINT shipment_pack CHECK (pack IN ('none', 'heat', 'cold')),
  ADD CONSTRAINT shipment_sizes CHECK (length_mm > 0 AND width_mm > 0 AND bags > 0 AND litres_a_bag > 0 AND hours > 0 AND claim_hours >= 0),
  ADD CONSTRAINT shipment_air CHECK (coldest_deg_c <= warmest_deg_c),
  ADD CONSTRAINT shipment_arrival CHECK ((arrived_at IS NULL) = (late IS NULL));
ALTER TABLE permit_line
  ADD CONSTRAINT permit_line_pieces CHECK (pieces > 0),
  ADD CONSTRAINT permit_line_source CHECK (source_code IN ('W', 'X', 'R', 'C', 'F', 'I', 'O', 'U'));
ALTER TABLE sale ADD CONSTRAINT sale_void CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE attached_file DROP CONSTRAINT attached_file_to_one,
  ADD CONSTRAINT attached_file_to_one CHECK (num_nonnulls(lot_id, system_id, equipment_id, sales_order_id) = 1);

-- An order and its lots are at one site.
CREATE FUNCTION keep_order_at_site() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF (SELECT site_id FROM lot WHERE id = NEW.lot_id) <> (SELECT site_id FROM sales_order WHERE id = NEW.order_id) THEN
    RAISE EXCEPTION 'order_line_site: the lot is at another site' USING ERRCODE = 'check_violation', CONSTRAINT = 'order_line_site';
  END IF;
  RETURN NULL;
END $$;
CREATE TRIGGER order_line_site AFTER INSERT ON order_line FOR EACH ROW EXECUTE FUNCTION keep_order_at_site();

-- What is promised to a buyer is not given to another: neither sold, nor put into another lot. What was lost, or was never
-- there, can be said all the same. The lot's row is locked, so that a promise made at the same moment is seen.
CREATE FUNCTION keep_promised_pieces() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE there integer; held integer;
BEGIN
  PERFORM FROM lot WHERE id = NEW.lot_id FOR UPDATE;
  SELECT coalesce(sum(pieces), 0) INTO held FROM hold WHERE lot_id = NEW.lot_id AND released_at IS NULL;
  IF held > 0 THEN
    SELECT coalesce(sum(change), 0) INTO there FROM ledger_entry WHERE lot_id = NEW.lot_id;
    IF held > there THEN
      RAISE EXCEPTION 'promised_pieces_stay: more pieces are promised than would be left' USING ERRCODE = 'check_violation', CONSTRAINT = 'promised_pieces_stay';
    END IF;
  END IF;
  RETURN NULL;
END $$;
CREATE TRIGGER promised_pieces_stay AFTER INSERT ON ledger_entry FOR EACH ROW
  WHEN (NEW.change < 0 AND NEW.reason IN ('sold', 'split', 'cut_out', 'merged')) EXECUTE FUNCTION keep_promised_pieces();

-- A hold that is open again takes its pieces as a new one does.
DROP TRIGGER hold_within_lot ON hold;
CREATE TRIGGER hold_within_lot AFTER INSERT OR UPDATE OF pieces, released_at, lot_id ON hold FOR EACH ROW
  WHEN (NEW.released_at IS NULL) EXECUTE FUNCTION keep_holds_within_lot();

-- The holds that are open and the sales that were made become orders of one lot each, without a price.
WITH were AS (
  SELECT hold.lot_id, lot.site_id, hold.pieces, hold.buyer, hold.note, hold.until, hold.account_id, hold.created_at AS at,
         'held'::"OrderStage" AS stage, hold.id AS hold_id, NULL::uuid AS sale_id, NULL::uuid AS tag_id
    FROM hold JOIN lot ON lot.id = hold.lot_id WHERE hold.released_at IS NULL
  UNION ALL
  SELECT sale.lot_id, lot.site_id, sale.pieces, sale.buyer, sale.note, sale.at::date, sale.account_id, sale.created_at,
         'gone', NULL, sale.id, CASE WHEN row_number() OVER (PARTITION BY sale.tag_id ORDER BY sale.at, sale.id) = 1 THEN sale.tag_id END
    FROM sale JOIN lot ON lot.id = sale.lot_id),
taken AS MATERIALIZED (
  SELECT gen_random_uuid() AS id, row_number() OVER (PARTITION BY site_id ORDER BY at, hold_id, sale_id) AS number, were.* FROM were),
orders AS (
  INSERT INTO sales_order (id, site_id, number, buyer, note, hold_until, stage, currency, account_id, created_at)
  SELECT taken.id, taken.site_id, number, buyer, note, until, stage, site.currency, account_id, at
    FROM taken JOIN site ON site.id = taken.site_id),
stages AS (
  INSERT INTO order_stage_change (id, order_id, stage, at, account_id)
  SELECT gen_random_uuid(), id, stage, at, account_id FROM taken)
INSERT INTO order_line (id, order_id, lot_id, position, pieces, hold_id, sale_id, tag_id)
SELECT gen_random_uuid(), id, lot_id, 1, pieces, hold_id, sale_id, tag_id FROM taken;

-- What can be undone right after it was saved.
DO $$
DECLARE name text;
BEGIN
  FOREACH name IN ARRAY ARRAY['sales_order', 'order_line', 'order_stage_change'] LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT OR UPDATE OR DELETE ON %I FOR EACH ROW
      WHEN (coalesce(current_setting(''evenwater.change'', true), '''') <> '''') EXECUTE FUNCTION keep_row_for_undo()',
      'undo_' || name, name);
  END LOOP;
END $$;

-- The site of what a line of the journal is about; null for what is the whole farm's.
CREATE OR REPLACE FUNCTION site_of(noun text, sought uuid) RETURNS uuid LANGUAGE plpgsql STABLE AS $$
BEGIN
  RETURN CASE noun
    WHEN 'acclimation' THEN (SELECT site_id FROM acclimation WHERE id = sought)
    WHEN 'alert' THEN (SELECT system.site_id FROM alert AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'circuit' THEN (SELECT site_id FROM circuit WHERE id = sought)
    WHEN 'contact' THEN (SELECT site_id FROM contact WHERE id = sought)
    WHEN 'correction' THEN (SELECT system.site_id FROM correction AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'digest' THEN (SELECT site_id FROM digest WHERE id = sought)
    WHEN 'dose' THEN (SELECT system.site_id FROM dose AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'emergency' THEN (SELECT site_id FROM emergency WHERE id = sought)
    WHEN 'equipment' THEN (SELECT system.site_id FROM equipment AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'fault' THEN (SELECT system.site_id FROM fault AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'feeding' THEN (SELECT system.site_id FROM feeding AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'import' THEN (SELECT site_id FROM import WHERE id = sought)
    WHEN 'lamp' THEN (SELECT system.site_id FROM lamp AS it JOIN tank ON tank.id = it.tank_id JOIN system ON system.id = tank.system_id WHERE it.id = sought)
    WHEN 'letter' THEN (SELECT digest.site_id FROM letter AS it JOIN digest ON digest.id = it.digest_id WHERE it.id = sought)
    WHEN 'lot' THEN (SELECT site_id FROM lot WHERE id = sought)
    WHEN 'move_plan' THEN (SELECT site_id FROM move_plan WHERE id = sought)
    WHEN 'rack' THEN (SELECT system.site_id FROM rack AS it JOIN tank ON tank.id = it.tank_id JOIN system ON system.id = tank.system_id WHERE it.id = sought)
    WHEN 'reading' THEN (SELECT system.site_id FROM reading AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'room' THEN (SELECT site_id FROM room WHERE id = sought)
    WHEN 'round' THEN (SELECT plan.site_id FROM round AS it JOIN round_plan AS plan ON plan.id = it.plan_id WHERE it.id = sought)
    WHEN 'round_entry' THEN (SELECT plan.site_id FROM round_entry AS it JOIN round ON round.id = it.round_id JOIN round_plan AS plan ON plan.id = round.plan_id WHERE it.id = sought)
    WHEN 'round_plan' THEN (SELECT site_id FROM round_plan WHERE id = sought)
    WHEN 'routine' THEN (SELECT system.site_id FROM routine AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'sales_order' THEN (SELECT site_id FROM sales_order WHERE id = sought)
    WHEN 'site' THEN (SELECT id FROM site WHERE id = sought)
    WHEN 'switched_off' THEN (SELECT system.site_id FROM switched_off AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'system' THEN (SELECT site_id FROM system WHERE id = sought)
    WHEN 'system_event' THEN (SELECT system.site_id FROM system_event AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'tag' THEN (SELECT lot.site_id FROM tag AS it JOIN lot ON lot.id = it.lot_id WHERE it.id = sought)
    WHEN 'tank' THEN (SELECT system.site_id FROM tank AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'water_change' THEN (SELECT system.site_id FROM water_change AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
  END;
END $$;
