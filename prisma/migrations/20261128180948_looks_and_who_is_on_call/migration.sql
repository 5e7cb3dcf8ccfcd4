ALTER TYPE "EmergencyEntryKind" ADD VALUE 'called';
ALTER TYPE "EmergencyEntryKind" ADD VALUE 'taken';

-- AlterTable
ALTER TABLE "contact" ADD COLUMN     "email" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "on_call" SMALLINT;

-- AlterTable
ALTER TABLE "emergency_entry" ADD COLUMN     "contact_id" UUID;

-- CreateTable
CREATE TABLE "look" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "key" TEXT NOT NULL,
    "title" TEXT NOT NULL,
    "detail" TEXT NOT NULL DEFAULT '',
    "href" TEXT NOT NULL,
    "due_at" TIMESTAMPTZ(3) NOT NULL,
    "urgent" BOOLEAN NOT NULL DEFAULT false,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "done_at" TIMESTAMPTZ(3),
    "done_by_id" UUID,
    "note" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "look_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "look_key_key" ON "look"("key");

-- CreateIndex
CREATE INDEX "look_system_id_due_at_idx" ON "look"("system_id", "due_at");

-- AddForeignKey
ALTER TABLE "look" ADD CONSTRAINT "look_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "emergency_entry" ADD CONSTRAINT "emergency_entry_contact_id_fkey" FOREIGN KEY ("contact_id") REFERENCES "contact"("id") ON DELETE SET NULL ON UPDATE CASCADE;

ALTER TABLE contact
  ADD CONSTRAINT contact_on_call CHECK (on_call BETWEEN 1 AND 9);
ALTER TABLE look
  ADD CONSTRAINT look_words CHECK (title <> '' AND href <> '');

-- What the watch reads of them leaves its mark.
CREATE TRIGGER look_facts_added AFTER INSERT ON look REFERENCING NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_system('look');
CREATE TRIGGER look_facts_changed AFTER UPDATE ON look REFERENCING OLD TABLE AS former NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_system('look');
CREATE TRIGGER look_facts_gone AFTER DELETE ON look REFERENCING OLD TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_system('look');
