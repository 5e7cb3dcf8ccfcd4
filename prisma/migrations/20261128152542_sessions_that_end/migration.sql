-- AlterTable
ALTER TABLE "account" ADD COLUMN     "session_generation" INTEGER NOT NULL DEFAULT 1;

-- AlterTable
ALTER TABLE "session" ADD COLUMN     "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP;
