-- AlterTable
ALTER TABLE "delivery" ADD COLUMN     "void_reason" TEXT,
ADD COLUMN     "voided_at" TIMESTAMPTZ(3);

ALTER TABLE delivery ADD CONSTRAINT delivery_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));
