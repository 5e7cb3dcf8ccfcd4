-- AlterTable
ALTER TABLE "reading" ADD COLUMN     "measured_by" TEXT NOT NULL DEFAULT '';
