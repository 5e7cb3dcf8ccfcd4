-- CreateTable
CREATE TABLE "system_watch" (
    "system_id" UUID NOT NULL,
    "judged_at" TIMESTAMPTZ(3) NOT NULL,
    "broken" TEXT[] DEFAULT ARRAY[]::TEXT[],
    "broken_since" TIMESTAMPTZ(3),

    CONSTRAINT "system_watch_pkey" PRIMARY KEY ("system_id")
);

-- AddForeignKey
ALTER TABLE "system_watch" ADD CONSTRAINT "system_watch_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE CASCADE ON UPDATE CASCADE;

ALTER TABLE "system_watch" ADD CONSTRAINT "system_watch_broken_since"
  CHECK ("broken" IS NOT NULL AND (cardinality("broken") = 0) = ("broken_since" IS NULL));
