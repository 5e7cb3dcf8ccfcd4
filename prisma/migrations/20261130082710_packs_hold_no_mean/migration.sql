-- AlterTable
ALTER TABLE "reading_pack" DROP COLUMN "mean";
