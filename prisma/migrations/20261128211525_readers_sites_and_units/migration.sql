-- AlterEnum
ALTER TYPE "Role" ADD VALUE 'reader' BEFORE 'hand';

-- AlterTable
ALTER TABLE "account" ADD COLUMN     "length_unit" TEXT,
ADD COLUMN     "mass_unit" TEXT,
ADD COLUMN     "temperature_unit" TEXT,
ADD COLUMN     "volume_unit" TEXT;

-- AlterTable
ALTER TABLE "site" ADD COLUMN     "length_unit" TEXT NOT NULL DEFAULT 'cm',
ADD COLUMN     "mass_unit" TEXT NOT NULL DEFAULT 'g',
ADD COLUMN     "volume_unit" TEXT NOT NULL DEFAULT 'L';

-- AlterTable
ALTER TABLE "access_key" ADD COLUMN     "site_id" UUID;

-- CreateTable
CREATE TABLE "site_person" (
    "site_id" UUID NOT NULL,
    "account_id" UUID NOT NULL,
    "role" "Role" NOT NULL,

    CONSTRAINT "site_person_pkey" PRIMARY KEY ("site_id","account_id")
);

-- CreateTable
CREATE TABLE "not_for_us" (
    "site_id" UUID NOT NULL,
    "item" TEXT NOT NULL,
    "account_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "not_for_us_pkey" PRIMARY KEY ("site_id","item")
);

-- CreateIndex
CREATE INDEX "site_person_account_id_idx" ON "site_person"("account_id");

-- AddForeignKey
ALTER TABLE "site_person" ADD CONSTRAINT "site_person_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "site_person" ADD CONSTRAINT "site_person_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "not_for_us" ADD CONSTRAINT "not_for_us_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "access_key" ADD CONSTRAINT "access_key_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- Owners are owners everywhere: at a site somebody is less.
ALTER TABLE site_person ADD CONSTRAINT site_person_no_owner CHECK (role <> 'owner');

-- The units that people can choose.
ALTER TABLE account
  ADD CONSTRAINT account_volume_unit CHECK (volume_unit IN ('L', 'gal (US)', 'gal (UK)')),
  ADD CONSTRAINT account_length_unit CHECK (length_unit IN ('cm', 'in')),
  ADD CONSTRAINT account_mass_unit CHECK (mass_unit IN ('g', 'oz')),
  ADD CONSTRAINT account_temperature_unit CHECK (temperature_unit IN ('degC', 'degF'));
ALTER TABLE site
  ADD CONSTRAINT site_volume_unit CHECK (volume_unit IN ('L', 'gal (US)', 'gal (UK)')),
  ADD CONSTRAINT site_length_unit CHECK (length_unit IN ('cm', 'in')),
  ADD CONSTRAINT site_mass_unit CHECK (mass_unit IN ('g', 'oz'));

-- AddForeignKey
ALTER TABLE "not_for_us" ADD CONSTRAINT "not_for_us_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
