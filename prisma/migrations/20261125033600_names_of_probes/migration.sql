-- CreateTable
CREATE TABLE "probe_name" (
    "name" TEXT NOT NULL,
    "system_id" UUID,
    "kit_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "probe_name_pkey" PRIMARY KEY ("name")
);

-- CreateTable
CREATE TABLE "probe_day" (
    "name" TEXT NOT NULL,
    "day" DATE NOT NULL,
    "taken" INTEGER NOT NULL DEFAULT 0,
    "rejected" INTEGER NOT NULL DEFAULT 0,
    "refused" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "probe_day_pkey" PRIMARY KEY ("name","day")
);

-- CreateIndex
CREATE INDEX "probe_name_kit_id_idx" ON "probe_name"("kit_id");

-- AddForeignKey
ALTER TABLE "probe_name" ADD CONSTRAINT "probe_name_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "probe_name" ADD CONSTRAINT "probe_name_kit_id_fkey" FOREIGN KEY ("kit_id") REFERENCES "kit"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "probe_day" ADD CONSTRAINT "probe_day_name_fkey" FOREIGN KEY ("name") REFERENCES "probe_name"("name") ON DELETE RESTRICT ON UPDATE CASCADE;

-- ------------------------------------------------------------ what the schema cannot say

ALTER TABLE probe_name ADD CONSTRAINT probe_name_not_empty CHECK (name <> ''),
  ADD CONSTRAINT probe_name_whole CHECK ((system_id IS NULL) = (kit_id IS NULL));
ALTER TABLE probe_day ADD CONSTRAINT probe_day_counts CHECK (taken >= 0 AND rejected >= 0);

-- What came from a file is found by its file.
CREATE INDEX reading_import ON reading (import_id) WHERE import_id IS NOT NULL;
