-- CreateTable
CREATE TABLE "attached_file" (
    "id" UUID NOT NULL,
    "lot_id" UUID,
    "system_id" UUID,
    "equipment_id" UUID,
    "name" TEXT NOT NULL,
    "what" TEXT NOT NULL,
    "kind" TEXT NOT NULL,
    "bytes" INTEGER NOT NULL,
    "content" BYTEA,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "attached_file_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "attached_file_lot_id_idx" ON "attached_file"("lot_id");

-- CreateIndex
CREATE INDEX "attached_file_system_id_idx" ON "attached_file"("system_id");

-- CreateIndex
CREATE INDEX "attached_file_equipment_id_idx" ON "attached_file"("equipment_id");

-- AddForeignKey
ALTER TABLE "attached_file" ADD CONSTRAINT "attached_file_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attached_file" ADD CONSTRAINT "attached_file_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attached_file" ADD CONSTRAINT "attached_file_equipment_id_fkey" FOREIGN KEY ("equipment_id") REFERENCES "equipment"("id") ON DELETE SET NULL ON UPDATE CASCADE;

ALTER TABLE attached_file
  ADD CONSTRAINT attached_file_to_one CHECK (num_nonnulls(lot_id, system_id, equipment_id) = 1),
  ADD CONSTRAINT attached_file_kind CHECK (kind IN ('application/pdf', 'image/jpeg')),
  ADD CONSTRAINT attached_file_size CHECK (content IS NULL OR octet_length(content) BETWEEN 1 AND 10485760),
  ADD CONSTRAINT attached_file_void CHECK ((voided_at IS NULL) = (void_reason IS NULL) AND (voided_at IS NULL) = (content IS NOT NULL));
