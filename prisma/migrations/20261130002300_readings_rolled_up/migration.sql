-- CreateEnum
CREATE TYPE "RollupGrain" AS ENUM ('hour', 'day');

-- CreateTable
CREATE TABLE "reading_rollup" (
    "system_id" UUID NOT NULL,
    "quantity_code" TEXT NOT NULL,
    "grain" "RollupGrain" NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "instrument" UUID NOT NULL,
    "method_id" UUID NOT NULL,
    "kit_id" UUID,
    "readings" INTEGER NOT NULL,
    "standing" INTEGER NOT NULL,
    "below" INTEGER NOT NULL,
    "above" INTEGER NOT NULL,
    "unconfirmed" INTEGER NOT NULL,
    "low" DOUBLE PRECISION,
    "high" DOUBLE PRECISION,
    "mean" DOUBLE PRECISION,
    "middle" DOUBLE PRECISION,
    "last" DOUBLE PRECISION,
    "last_at" TIMESTAMPTZ(3),
    "uncertainty" DOUBLE PRECISION,

    CONSTRAINT "reading_rollup_pkey" PRIMARY KEY ("system_id","quantity_code","grain","at","method_id","instrument")
);

-- CreateTable
CREATE TABLE "reading_unrolled" (
    "nth" BIGSERIAL NOT NULL,
    "system_id" UUID NOT NULL,
    "quantity_code" TEXT NOT NULL,
    "from_at" TIMESTAMPTZ(3) NOT NULL,
    "to_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "reading_unrolled_pkey" PRIMARY KEY ("nth")
);

-- CreateIndex
CREATE INDEX "reading_unrolled_system_id_quantity_code_idx" ON "reading_unrolled"("system_id", "quantity_code");

-- AddForeignKey
ALTER TABLE "reading_rollup" ADD CONSTRAINT "reading_rollup_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_rollup" ADD CONSTRAINT "reading_rollup_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_rollup" ADD CONSTRAINT "reading_rollup_method_id_fkey" FOREIGN KEY ("method_id") REFERENCES "method"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_rollup" ADD CONSTRAINT "reading_rollup_kit_id_fkey" FOREIGN KEY ("kit_id") REFERENCES "kit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_unrolled" ADD CONSTRAINT "reading_unrolled_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_unrolled" ADD CONSTRAINT "reading_unrolled_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE RESTRICT ON UPDATE CASCADE;

-- ------------------------------------------------------------ what the schema cannot say

ALTER TABLE reading_rollup ADD CONSTRAINT reading_rollup_instrument CHECK (instrument = coalesce(kit_id, method_id)),
  ADD CONSTRAINT reading_rollup_counts CHECK (standing >= 0 AND readings >= standing AND below + above <= standing AND unconfirmed <= standing),
  ADD CONSTRAINT reading_rollup_figures CHECK (
    CASE WHEN standing = 0 THEN num_nulls(low, high, mean, middle, last, last_at, uncertainty) = 7
         ELSE num_nulls(low, high, mean, middle, last, last_at, uncertainty) = 0 END);

ALTER TABLE reading_unrolled ADD CONSTRAINT reading_unrolled_order CHECK (from_at <= to_at);

-- Readings in which no kit is named: those with one are found by their kit, also between the values of a probe.
CREATE INDEX reading_without_kit ON reading (system_id, quantity_code, at) WHERE kit_id IS NULL;

-- Neither the time nor the quantity of a reading ever changes, so that what lies before the earliest that was touched is as
-- it was: a probe that reports each minute has only its last day worked out anew. What methods read that report by themselves
-- is rolled up anew as well. The mark is of the same transaction: whoever sees it sees the readings.
CREATE OR REPLACE FUNCTION mark_readings() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  INSERT INTO fact_mark (transaction, part, system_id, quantity_code, rows_from)
  SELECT pg_current_xact_id()::text::bigint, 'reading', system_id, quantity_code, min(at) FROM touched GROUP BY system_id, quantity_code;
  INSERT INTO reading_unrolled (system_id, quantity_code, from_at, to_at)
  SELECT system_id, touched.quantity_code, min(at), max(at)
    FROM touched JOIN method ON method.id = touched.method_id AND method.every_minutes IS NOT NULL
   GROUP BY system_id, touched.quantity_code;
  RETURN NULL;
END $$;

-- Marks all readings of some systems (null: of every one) and of a quantity (null: of each).
CREATE FUNCTION unroll_readings(systems uuid[], code text) RETURNS void LANGUAGE sql AS $$
  INSERT INTO reading_unrolled (system_id, quantity_code, from_at, to_at)
  SELECT system.id, quantity.code, first.at, last.at
    FROM system CROSS JOIN quantity
    JOIN LATERAL (SELECT at FROM reading WHERE system_id = system.id AND quantity_code = quantity.code ORDER BY at LIMIT 1) AS first ON true
    JOIN LATERAL (SELECT at FROM reading WHERE system_id = system.id AND quantity_code = quantity.code ORDER BY at DESC LIMIT 1) AS last ON true
   WHERE (systems IS NULL OR system.id = ANY(systems)) AND (code IS NULL OR quantity.code = code)
     AND EXISTS (SELECT FROM method WHERE quantity_code = quantity.code AND every_minutes IS NOT NULL)
$$;

-- Days begin at another time.
CREATE FUNCTION unroll_site() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
  own uuid[] := (SELECT array_agg(id) FROM system WHERE site_id = NEW.id);
BEGIN
  DELETE FROM reading_rollup WHERE system_id = ANY(own);
  PERFORM unroll_readings(coalesce(own, '{}'), NULL);
  RETURN NULL;
END $$;
CREATE TRIGGER site_unrolled AFTER UPDATE OF time_zone ON site FOR EACH ROW
  WHEN (OLD.time_zone IS DISTINCT FROM NEW.time_zone) EXECUTE FUNCTION unroll_site();

CREATE FUNCTION unroll_system() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  DELETE FROM reading_rollup WHERE system_id = NEW.id;
  PERFORM unroll_readings(ARRAY[NEW.id], NULL);
  RETURN NULL;
END $$;
CREATE TRIGGER system_unrolled AFTER UPDATE OF site_id ON system FOR EACH ROW
  WHEN (OLD.site_id IS DISTINCT FROM NEW.site_id) EXECUTE FUNCTION unroll_system();

-- What it read until now is that of a probe from now on.
CREATE FUNCTION unroll_method() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM unroll_readings(NULL, NEW.quantity_code);
  RETURN NULL;
END $$;
CREATE TRIGGER method_unrolled AFTER UPDATE OF every_minutes ON method FOR EACH ROW
  WHEN (OLD.every_minutes IS NULL AND NEW.every_minutes IS NOT NULL) EXECUTE FUNCTION unroll_method();

-- What is there already is rolled up by the service, piece by piece; until then its readings are read.
SELECT unroll_readings(NULL, NULL);
