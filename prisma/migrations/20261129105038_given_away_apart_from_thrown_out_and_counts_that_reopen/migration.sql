-- AlterEnum
ALTER TYPE "LossCause" ADD VALUE 'thrown_out';

-- AlterTable
ALTER TABLE "stocktake_count" ADD COLUMN     "reopened" JSONB;
