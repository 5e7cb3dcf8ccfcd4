-- In what unit a probe's name reports, and what came under it that was not kept.
ALTER TABLE "probe_name" ADD COLUMN "unit" TEXT,
ADD COLUMN "unkept" INTEGER NOT NULL DEFAULT 0,
ADD COLUMN "unkept_why" TEXT NOT NULL DEFAULT '';
