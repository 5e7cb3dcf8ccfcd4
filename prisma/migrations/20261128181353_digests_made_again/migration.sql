-- DropIndex
DROP INDEX "letter_digest_id_receiver_id_key";

-- AlterTable
ALTER TABLE "digest" ADD COLUMN     "earlier" JSONB NOT NULL DEFAULT '[]',
ADD COLUMN     "made_again_at" TIMESTAMPTZ(3),
ADD COLUMN     "made_again_by_id" UUID,
ADD COLUMN     "mail_version" INTEGER NOT NULL DEFAULT 1,
ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 1;

-- AlterTable
ALTER TABLE "letter" ADD COLUMN     "version" INTEGER NOT NULL DEFAULT 1;

-- CreateIndex
CREATE UNIQUE INDEX "letter_digest_id_receiver_id_version_key" ON "letter"("digest_id", "receiver_id", "version");

-- What stands was made again exactly as often as something earlier is kept, and letters are never of a making to come.
ALTER TABLE "digest" ADD CONSTRAINT digest_made_again CHECK (jsonb_array_length(earlier) = version - 1 AND (version = 1) = (made_again_at IS NULL)),
  ADD CONSTRAINT digest_mail_version CHECK (mail_version BETWEEN 1 AND version);
