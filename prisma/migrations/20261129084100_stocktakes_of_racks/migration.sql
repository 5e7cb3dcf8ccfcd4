-- CreateTable
CREATE TABLE "stocktake" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "hidden" BOOLEAN NOT NULL,
    "two_people" BOOLEAN NOT NULL,
    "started_at" TIMESTAMPTZ(3) NOT NULL,
    "started_by_id" UUID,
    "closed_at" TIMESTAMPTZ(3),
    "closed_by_id" UUID,
    "note" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "stocktake_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "stocktake_rack" (
    "stocktake_id" UUID NOT NULL,
    "rack_id" UUID NOT NULL,
    "position" INTEGER NOT NULL,

    CONSTRAINT "stocktake_rack_pkey" PRIMARY KEY ("stocktake_id","rack_id")
);

-- CreateTable
CREATE TABLE "stocktake_line" (
    "id" UUID NOT NULL,
    "stocktake_id" UUID NOT NULL,
    "rack_id" UUID NOT NULL,
    "lot_id" UUID,
    "found_as" TEXT NOT NULL DEFAULT '',
    "reason" TEXT,
    "note" TEXT NOT NULL DEFAULT '',
    "change" INTEGER,
    "settled_at" TIMESTAMPTZ(3),
    "settled_by_id" UUID,
    "ledger_entry_id" UUID,

    CONSTRAINT "stocktake_line_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "stocktake_count" (
    "id" UUID NOT NULL,
    "line_id" UUID NOT NULL,
    "pieces" INTEGER NOT NULL,
    "expected" INTEGER NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "account_id" UUID,
    "voided_at" TIMESTAMPTZ(3),

    CONSTRAINT "stocktake_count_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "stocktake_routine" (
    "site_id" UUID NOT NULL,
    "every_days" INTEGER NOT NULL,
    "since" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "stocktake_routine_pkey" PRIMARY KEY ("site_id")
);

-- CreateIndex
CREATE INDEX "stocktake_site_id_started_at_idx" ON "stocktake"("site_id", "started_at");

-- CreateIndex
CREATE INDEX "stocktake_rack_rack_id_idx" ON "stocktake_rack"("rack_id");

-- CreateIndex
CREATE UNIQUE INDEX "stocktake_line_ledger_entry_id_key" ON "stocktake_line"("ledger_entry_id");

-- CreateIndex
CREATE INDEX "stocktake_line_lot_id_idx" ON "stocktake_line"("lot_id");

-- CreateIndex
CREATE UNIQUE INDEX "stocktake_line_stocktake_id_rack_id_lot_id_key" ON "stocktake_line"("stocktake_id", "rack_id", "lot_id");

-- CreateIndex
CREATE INDEX "stocktake_count_line_id_at_idx" ON "stocktake_count"("line_id", "at");

-- AddForeignKey
ALTER TABLE "stocktake" ADD CONSTRAINT "stocktake_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake" ADD CONSTRAINT "stocktake_started_by_id_fkey" FOREIGN KEY ("started_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake" ADD CONSTRAINT "stocktake_closed_by_id_fkey" FOREIGN KEY ("closed_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_rack" ADD CONSTRAINT "stocktake_rack_stocktake_id_fkey" FOREIGN KEY ("stocktake_id") REFERENCES "stocktake"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_rack" ADD CONSTRAINT "stocktake_rack_rack_id_fkey" FOREIGN KEY ("rack_id") REFERENCES "rack"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_line" ADD CONSTRAINT "stocktake_line_stocktake_id_fkey" FOREIGN KEY ("stocktake_id") REFERENCES "stocktake"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_line" ADD CONSTRAINT "stocktake_line_rack_id_fkey" FOREIGN KEY ("rack_id") REFERENCES "rack"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_line" ADD CONSTRAINT "stocktake_line_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_line" ADD CONSTRAINT "stocktake_line_settled_by_id_fkey" FOREIGN KEY ("settled_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_line" ADD CONSTRAINT "stocktake_line_ledger_entry_id_fkey" FOREIGN KEY ("ledger_entry_id") REFERENCES "ledger_entry"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_count" ADD CONSTRAINT "stocktake_count_line_id_fkey" FOREIGN KEY ("line_id") REFERENCES "stocktake_line"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_count" ADD CONSTRAINT "stocktake_count_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "stocktake_routine" ADD CONSTRAINT "stocktake_routine_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE CASCADE ON UPDATE CASCADE;

CREATE UNIQUE INDEX stocktake_one_open ON stocktake (site_id) WHERE closed_at IS NULL;
ALTER TABLE stocktake
  ADD CONSTRAINT stocktake_closed CHECK (closed_at >= started_at AND (closed_at IS NOT NULL OR closed_by_id IS NULL));
ALTER TABLE stocktake_line
  ADD CONSTRAINT stocktake_line_of CHECK (lot_id IS NOT NULL OR found_as <> ''),
  ADD CONSTRAINT stocktake_line_reason CHECK (reason IN ('lost', 'sold', 'miscounted', 'found', 'received', 'moved', 'split', 'noted')),
  ADD CONSTRAINT stocktake_line_settled CHECK ((reason IS NULL) = (settled_at IS NULL) AND (reason IS NULL) = (change IS NULL) AND (reason IS NOT NULL OR (settled_by_id IS NULL AND ledger_entry_id IS NULL)));
ALTER TABLE stocktake_count
  ADD CONSTRAINT stocktake_count_pieces CHECK (pieces >= 0 AND expected >= 0);
ALTER TABLE stocktake_routine
  ADD CONSTRAINT stocktake_routine_days CHECK (every_days BETWEEN 1 AND 3650);

-- A closed stocktake stays as it was closed.
CREATE FUNCTION stocktake_stays_closed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF OLD.closed_at IS NOT NULL THEN
    RAISE EXCEPTION 'a closed stocktake stays as it is' USING ERRCODE = 'check_violation', CONSTRAINT = 'stocktake_stays_closed';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER stocktake_stays_closed BEFORE UPDATE ON stocktake FOR EACH ROW EXECUTE FUNCTION stocktake_stays_closed();

CREATE FUNCTION stocktake_parts_stay_closed() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE of_stocktake uuid;
BEGIN
  IF TG_TABLE_NAME = 'stocktake_count' THEN
    SELECT stocktake_id INTO of_stocktake FROM stocktake_line WHERE id = NEW.line_id;
  ELSE
    of_stocktake := NEW.stocktake_id;
  END IF;
  IF EXISTS (SELECT FROM stocktake WHERE id = of_stocktake AND closed_at IS NOT NULL) THEN
    RAISE EXCEPTION 'a closed stocktake stays as it is' USING ERRCODE = 'check_violation', CONSTRAINT = 'stocktake_stays_closed';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER stocktake_line_stays_closed BEFORE INSERT OR UPDATE ON stocktake_line FOR EACH ROW EXECUTE FUNCTION stocktake_parts_stay_closed();
CREATE TRIGGER stocktake_count_stays_closed BEFORE INSERT OR UPDATE ON stocktake_count FOR EACH ROW EXECUTE FUNCTION stocktake_parts_stay_closed();

-- The site of a stocktake's lines in the journal.
DO $$
BEGIN
  EXECUTE replace(pg_get_functiondef('site_of(text, uuid)'::regprocedure), 'WHEN ''digest'' THEN',
    'WHEN ''stocktake'' THEN (SELECT site_id FROM stocktake WHERE id = sought) WHEN ''digest'' THEN');
END $$;
