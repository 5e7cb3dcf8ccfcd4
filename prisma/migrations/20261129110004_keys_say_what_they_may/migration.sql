-- AlterTable
ALTER TABLE "request_key" ADD COLUMN     "answer" JSONB;

-- AlterTable
ALTER TABLE "access_key" ADD COLUMN     "expires_at" TIMESTAMPTZ(3),
ADD COLUMN     "per_minute" INTEGER NOT NULL DEFAULT 6000,
ADD COLUMN     "scopes" TEXT[] DEFAULT ARRAY['readings']::TEXT[];

ALTER TABLE "access_key" ADD CONSTRAINT "access_key_scopes_known"
  CHECK ("scopes" <@ ARRAY['readings', 'read', 'work', 'stock', 'sales', 'farm'] AND cardinality("scopes") > 0);
ALTER TABLE "access_key" ADD CONSTRAINT "access_key_per_minute_positive" CHECK ("per_minute" > 0);
ALTER TABLE "access_key" ADD CONSTRAINT "access_key_expires_later" CHECK ("expires_at" > "created_at");
ALTER TABLE "request_key" ADD CONSTRAINT "request_key_answer_is_whole"
  CHECK ("answer" IS NULL OR ("answer" ? 'status' AND "answer" ? 'body'));
CREATE INDEX "request_key_created_at_idx" ON "request_key" ("created_at");
