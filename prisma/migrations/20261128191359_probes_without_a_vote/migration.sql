-- CreateTable
CREATE TABLE "probe_doubt" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "quantity_code" TEXT NOT NULL,
    "method_id" UUID NOT NULL,
    "kit_id" UUID,
    "label" TEXT NOT NULL,
    "since" TIMESTAMPTZ(3) NOT NULL,
    "words" TEXT NOT NULL,

    CONSTRAINT "probe_doubt_pkey" PRIMARY KEY ("id")
);

-- AddForeignKey
ALTER TABLE "probe_doubt" ADD CONSTRAINT "probe_doubt_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "probe_doubt" ADD CONSTRAINT "probe_doubt_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "probe_doubt" ADD CONSTRAINT "probe_doubt_method_id_fkey" FOREIGN KEY ("method_id") REFERENCES "method"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "probe_doubt" ADD CONSTRAINT "probe_doubt_kit_id_fkey" FOREIGN KEY ("kit_id") REFERENCES "kit"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- What the schema cannot say.
CREATE UNIQUE INDEX probe_doubt_source ON probe_doubt (system_id, quantity_code, method_id, kit_id) NULLS NOT DISTINCT;

-- The readings without the values of probes that have no vote, from when they have none.
CREATE VIEW reading_with_vote AS
  SELECT reading.* FROM reading
   WHERE NOT EXISTS (SELECT 1 FROM probe_doubt AS doubt
                      WHERE doubt.system_id = reading.system_id AND doubt.quantity_code = reading.quantity_code
                        AND doubt.method_id = reading.method_id AND doubt.kit_id IS NOT DISTINCT FROM reading.kit_id
                        AND reading.at >= doubt.since);
