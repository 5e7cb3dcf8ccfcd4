-- AlterTable
ALTER TABLE "pest_sighting" ADD COLUMN     "pest" TEXT NOT NULL DEFAULT '',
ALTER COLUMN "watch_id" DROP NOT NULL;

-- A sighting belongs to a watch, or says itself which pest it was.
ALTER TABLE pest_sighting ADD CONSTRAINT pest_sighting_of CHECK ((watch_id IS NULL) = (pest <> ''));
