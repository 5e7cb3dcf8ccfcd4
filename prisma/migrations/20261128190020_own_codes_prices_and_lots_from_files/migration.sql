-- CreateEnum
CREATE TYPE "ImportHolds" AS ENUM ('readings', 'lots');

-- AlterTable
ALTER TABLE "site" ADD COLUMN     "currency" TEXT;

-- AlterTable
ALTER TABLE "lot" ADD COLUMN     "import_id" UUID,
ADD COLUMN     "import_row" TEXT,
ADD COLUMN     "own_code" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "price_minor" INTEGER,
ADD COLUMN     "trade_name" TEXT NOT NULL DEFAULT '';

-- AlterTable
ALTER TABLE "import" ADD COLUMN     "holds" "ImportHolds" NOT NULL DEFAULT 'readings';

-- CreateTable
CREATE TABLE "lot_name" (
    "site_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "kind_id" UUID NOT NULL,

    CONSTRAINT "lot_name_pkey" PRIMARY KEY ("site_id","name")
);

-- AddForeignKey
ALTER TABLE "lot" ADD CONSTRAINT "lot_import_id_fkey" FOREIGN KEY ("import_id") REFERENCES "import"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "lot_name" ADD CONSTRAINT "lot_name_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "lot_name" ADD CONSTRAINT "lot_name_kind_id_fkey" FOREIGN KEY ("kind_id") REFERENCES "kind"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- Own codes are the same whatever their case and spaces.
CREATE FUNCTION own_code_key(own_code text) RETURNS text LANGUAGE sql IMMUTABLE PARALLEL SAFE
  RETURN lower(regexp_replace(own_code, '\s', '', 'g'));
CREATE UNIQUE INDEX lot_own_code_once ON lot (site_id, own_code_key(own_code)) WHERE own_code <> '' AND pieces > 0;

-- A price is an amount of the site's currency, so the currency stays while there are prices in it.
ALTER TABLE site ADD CONSTRAINT site_currency_code CHECK (currency ~ '^[A-Z]{3}$');
ALTER TABLE lot ADD CONSTRAINT lot_price_amount CHECK (price_minor BETWEEN 0 AND 1000000000);

CREATE FUNCTION lot_price_needs_currency() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW.price_minor IS NOT NULL AND NOT EXISTS (SELECT 1 FROM site WHERE id = NEW.site_id AND currency IS NOT NULL FOR SHARE) THEN
    RAISE EXCEPTION 'lot_price_currency: the site has no currency' USING ERRCODE = '23514', CONSTRAINT = 'lot_price_currency';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER lot_price_has_currency BEFORE INSERT OR UPDATE OF price_minor, site_id ON lot
  FOR EACH ROW WHEN (NEW.price_minor IS NOT NULL) EXECUTE FUNCTION lot_price_needs_currency();

CREATE FUNCTION keep_site_currency() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM lot WHERE site_id = NEW.id AND price_minor IS NOT NULL) THEN
    RAISE EXCEPTION 'site_currency_used: lots have prices in it' USING ERRCODE = '23514', CONSTRAINT = 'site_currency_used';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER site_currency_kept BEFORE UPDATE OF currency ON site
  FOR EACH ROW WHEN (NEW.currency IS DISTINCT FROM OLD.currency) EXECUTE FUNCTION keep_site_currency();

-- A row of a file becomes one lot, however often the file is brought.
CREATE UNIQUE INDEX lot_import_row_once ON lot (site_id, import_row) WHERE import_row IS NOT NULL;
CREATE INDEX lot_import ON lot (import_id) WHERE import_id IS NOT NULL;

-- Lots are found by any part of what is written on them.
CREATE EXTENSION IF NOT EXISTS pg_trgm;
CREATE FUNCTION lot_words(code text, own_code text, trade_name text, origin text, permit text, note text) RETURNS text
  LANGUAGE sql IMMUTABLE PARALLEL SAFE
  RETURN lower(' ' || code || ' ' || replace(code, '-', '') || ' ' || own_code || ' ' || own_code_key(own_code) || ' ' || trade_name
    || ' ' || origin || ' ' || permit || ' ' || note || ' ');
CREATE INDEX lot_words_index ON lot USING gin (lot_words(code, own_code, trade_name, origin, permit, note) gin_trgm_ops);
