-- AlterEnum
ALTER TYPE "LossCause" ADD VALUE 'thrown_out' BEFORE 'other';

-- AlterTable
ALTER TABLE "stocktake_count" ADD COLUMN     "reopened" JSONB;
