-- AlterTable
ALTER TABLE "routine" ADD COLUMN     "weekdays" INTEGER[] DEFAULT ARRAY[]::INTEGER[];

ALTER TABLE "routine" ADD CONSTRAINT routine_weekdays CHECK (weekdays <@ ARRAY[1, 2, 3, 4, 5, 6, 7]);
