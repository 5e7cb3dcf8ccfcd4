-- AlterTable
ALTER TABLE "system" ADD COLUMN     "bench_order" TEXT[] DEFAULT ARRAY[]::TEXT[];

-- AlterTable
ALTER TABLE "method" ADD COLUMN     "retired_at" TIMESTAMPTZ(3),
ADD COLUMN     "side_divisor" DOUBLE PRECISION;

-- AlterTable
ALTER TABLE "reading" ADD COLUMN     "access_key_id" UUID,
ADD COLUMN     "factor" DOUBLE PRECISION NOT NULL DEFAULT 1;

-- AlterTable
ALTER TABLE "dose" ADD COLUMN     "access_key_id" UUID;

-- CreateTable
CREATE TABLE "access_key" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "hash" TEXT NOT NULL,
    "hint" TEXT NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "last_used_at" TIMESTAMPTZ(3),
    "ended_at" TIMESTAMPTZ(3),

    CONSTRAINT "access_key_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "kit_pair" (
    "id" UUID NOT NULL,
    "kit_id" UUID NOT NULL,
    "old_kit_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "old_value" DOUBLE PRECISION NOT NULL,
    "value" DOUBLE PRECISION NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "kit_pair_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "access_key_hash_key" ON "access_key"("hash");

-- CreateIndex
CREATE INDEX "kit_pair_kit_id_at_idx" ON "kit_pair"("kit_id", "at");

-- AddForeignKey
ALTER TABLE "kit_pair" ADD CONSTRAINT "kit_pair_kit_id_fkey" FOREIGN KEY ("kit_id") REFERENCES "kit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kit_pair" ADD CONSTRAINT "kit_pair_old_kit_id_fkey" FOREIGN KEY ("old_kit_id") REFERENCES "kit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- ------------------------------------------------------------ what the schema cannot say

ALTER TABLE access_key ADD CONSTRAINT access_key_name CHECK (name <> ''), ADD CONSTRAINT access_key_order CHECK (ended_at >= created_at);
CREATE UNIQUE INDEX access_key_one_name ON access_key (name) WHERE ended_at IS NULL;

ALTER TABLE method ADD CONSTRAINT method_side_divisor CHECK (side_divisor > 1);

ALTER TABLE kit_pair ADD CONSTRAINT kit_pair_of_two CHECK (kit_id <> old_kit_id),
  ADD CONSTRAINT kit_pair_values CHECK (old_value > 0 AND value > 0 AND old_value < 'Infinity' AND value < 'Infinity'),
  ADD CONSTRAINT kit_pair_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));

ALTER TABLE reading ADD CONSTRAINT reading_factor CHECK (factor > 0 AND factor < 'Infinity'),
  ADD CONSTRAINT reading_by_one CHECK (num_nonnulls(account_id, access_key_id) <= 1);
ALTER TABLE dose ADD CONSTRAINT dose_by_one CHECK (num_nonnulls(account_id, access_key_id) <= 1);

CREATE OR REPLACE FUNCTION keep_reading() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' OR (NEW.system_id, NEW.quantity_code, NEW.at, NEW.value, NEW.below_detection, NEW.entered_text, NEW.entered_unit, NEW.factor)
     IS DISTINCT FROM (OLD.system_id, OLD.quantity_code, OLD.at, OLD.value, OLD.below_detection, OLD.entered_text, OLD.entered_unit, OLD.factor) THEN
    RAISE EXCEPTION 'reading_kept: a reading is not changed; supersede or void it' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'reading_kept';
  END IF;
  RETURN NEW;
END $$;
