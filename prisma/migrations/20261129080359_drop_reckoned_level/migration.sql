-- AlterTable
ALTER TABLE "equipment" DROP COLUMN "reckoned_at",
DROP COLUMN "reckoned_l";
