-- AlterTable
ALTER TABLE "lamp" ADD COLUMN     "height_mm" INTEGER,
ADD COLUMN     "model" TEXT NOT NULL DEFAULT '';

ALTER TABLE lamp ADD CONSTRAINT lamp_height CHECK (height_mm IS NULL OR height_mm >= 0);
