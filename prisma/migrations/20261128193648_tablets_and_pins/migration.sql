-- AlterTable
ALTER TABLE "account" ADD COLUMN     "pin_hash" TEXT,
ALTER COLUMN "email" DROP NOT NULL,
ALTER COLUMN "password_hash" DROP NOT NULL;

-- CreateTable
CREATE TABLE "tablet" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "hash" TEXT NOT NULL,
    "idle_min" INTEGER NOT NULL,
    "account_id" UUID NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "last_used_at" TIMESTAMPTZ(3),
    "ended_at" TIMESTAMPTZ(3),

    CONSTRAINT "tablet_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "tablet_person" (
    "tablet_id" UUID NOT NULL,
    "account_id" UUID NOT NULL,

    CONSTRAINT "tablet_person_pkey" PRIMARY KEY ("tablet_id","account_id")
);

-- CreateIndex
CREATE UNIQUE INDEX "tablet_hash_key" ON "tablet"("hash");

-- AddForeignKey
ALTER TABLE "tablet_person" ADD CONSTRAINT "tablet_person_tablet_id_fkey" FOREIGN KEY ("tablet_id") REFERENCES "tablet"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tablet_person" ADD CONSTRAINT "tablet_person_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- Who has an address has a password; who has neither is a hand with a PIN. Only hands have PINs that count.
ALTER TABLE "account" ADD CONSTRAINT "account_way_in" CHECK (
  (email IS NULL) = (password_hash IS NULL)
  AND (email IS NOT NULL OR (role = 'hand' AND pin_hash IS NOT NULL))
);
ALTER TABLE "tablet" ADD CONSTRAINT "tablet_idle_min" CHECK (idle_min BETWEEN 1 AND 240);
