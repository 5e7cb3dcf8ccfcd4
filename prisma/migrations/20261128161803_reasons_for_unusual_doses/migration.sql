-- AlterTable
ALTER TABLE "dose" ADD COLUMN     "concerns" TEXT[] DEFAULT ARRAY[]::TEXT[],
ADD COLUMN     "reason" TEXT NOT NULL DEFAULT '';
