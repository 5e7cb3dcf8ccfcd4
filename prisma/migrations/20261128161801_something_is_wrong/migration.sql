-- CreateEnum
CREATE TYPE "ContactRole" AS ENUM ('ambulance', 'fire_service', 'poison_centre', 'electrician', 'plumber', 'heating_engineer', 'power_supplier', 'water_supplier', 'landlord', 'vet', 'key_holder', 'neighbour', 'other');

-- CreateEnum
CREATE TYPE "EmergencyEntryKind" AS ENUM ('done', 'undone', 'look', 'looked', 'note', 'off', 'running', 'left_off');

-- CreateTable
CREATE TABLE "contact" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "role" "ContactRole" NOT NULL,
    "name" TEXT NOT NULL DEFAULT '',
    "number" TEXT NOT NULL,
    "tested_on" DATE,
    "note" TEXT NOT NULL DEFAULT '',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "contact_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "emergency" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "event" TEXT NOT NULL,
    "title" TEXT NOT NULL,
    "started_at" TIMESTAMPTZ(3) NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "ended_at" TIMESTAMPTZ(3),
    "ended_by_id" UUID,
    "ending" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "emergency_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "emergency_system" (
    "emergency_id" UUID NOT NULL,
    "system_id" UUID NOT NULL,

    CONSTRAINT "emergency_system_pkey" PRIMARY KEY ("emergency_id","system_id")
);

-- CreateTable
CREATE TABLE "emergency_entry" (
    "id" UUID NOT NULL,
    "emergency_id" UUID NOT NULL,
    "kind" "EmergencyEntryKind" NOT NULL,
    "step" TEXT NOT NULL DEFAULT '',
    "text" TEXT NOT NULL DEFAULT '',
    "due_at" TIMESTAMPTZ(3),
    "switched_off_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "emergency_entry_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "contact_site_id_idx" ON "contact"("site_id");

-- CreateIndex
CREATE INDEX "emergency_site_id_started_at_idx" ON "emergency"("site_id", "started_at");

-- CreateIndex
CREATE INDEX "emergency_entry_emergency_id_at_idx" ON "emergency_entry"("emergency_id", "at");

-- AddForeignKey
ALTER TABLE "contact" ADD CONSTRAINT "contact_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "emergency" ADD CONSTRAINT "emergency_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "emergency_system" ADD CONSTRAINT "emergency_system_emergency_id_fkey" FOREIGN KEY ("emergency_id") REFERENCES "emergency"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "emergency_system" ADD CONSTRAINT "emergency_system_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "emergency_entry" ADD CONSTRAINT "emergency_entry_emergency_id_fkey" FOREIGN KEY ("emergency_id") REFERENCES "emergency"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "emergency_entry" ADD CONSTRAINT "emergency_entry_switched_off_id_fkey" FOREIGN KEY ("switched_off_id") REFERENCES "switched_off"("id") ON DELETE SET NULL ON UPDATE CASCADE;

ALTER TABLE contact ADD CONSTRAINT contact_number CHECK (number <> '');
ALTER TABLE emergency
  ADD CONSTRAINT emergency_words CHECK (event <> '' AND title <> ''),
  ADD CONSTRAINT emergency_order CHECK (ended_at >= started_at);
ALTER TABLE emergency_entry
  ADD CONSTRAINT emergency_entry_step CHECK (kind NOT IN ('done', 'undone') OR step <> ''),
  ADD CONSTRAINT emergency_entry_note CHECK (kind NOT IN ('note', 'left_off') OR text <> ''),
  ADD CONSTRAINT emergency_entry_due CHECK ((due_at IS NOT NULL OR kind <> 'look') AND (due_at IS NULL OR kind IN ('look', 'done'))),
  ADD CONSTRAINT emergency_entry_off CHECK ((kind IN ('off', 'running', 'left_off')) = (switched_off_id IS NOT NULL));

-- What was done while something was wrong is never written anew.
CREATE TRIGGER emergency_entry_append_only BEFORE UPDATE OR DELETE ON emergency_entry FOR EACH ROW EXECUTE FUNCTION refuse_change();
