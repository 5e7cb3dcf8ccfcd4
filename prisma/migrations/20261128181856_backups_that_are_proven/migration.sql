-- CreateTable
CREATE TABLE "backup" (
    "id" UUID NOT NULL,
    "begun_at" TIMESTAMPTZ(3) NOT NULL,
    "account_id" UUID,
    "proven_at" TIMESTAMPTZ(3),
    "failed_at" TIMESTAMPTZ(3),
    "fault" TEXT NOT NULL DEFAULT '',
    "file" TEXT NOT NULL DEFAULT '',
    "bytes" BIGINT NOT NULL DEFAULT 0,
    "rows" INTEGER NOT NULL DEFAULT 0,
    "encrypted" BOOLEAN NOT NULL DEFAULT false,
    "deleted_at" TIMESTAMPTZ(3),

    CONSTRAINT "backup_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "backup_begun_at_idx" ON "backup"("begun_at");

-- A backup is proven, failed or still being made; a proven one has its file.
ALTER TABLE "backup"
  ADD CONSTRAINT backup_outcome CHECK (proven_at IS NULL OR failed_at IS NULL),
  ADD CONSTRAINT backup_file CHECK (proven_at IS NULL OR (file <> '' AND bytes > 0)),
  ADD CONSTRAINT backup_deleted CHECK (deleted_at IS NULL OR proven_at IS NOT NULL);
