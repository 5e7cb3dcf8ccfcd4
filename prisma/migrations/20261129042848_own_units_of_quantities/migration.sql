-- AlterTable
ALTER TABLE "account" ADD COLUMN     "alkalinity_unit" TEXT,
ADD COLUMN     "salinity_unit" TEXT;

-- The units that can be chosen, as src/platform/units/units.ts has them.
ALTER TABLE account
  ADD CONSTRAINT account_alkalinity_unit CHECK (alkalinity_unit IN ('dKH', 'meq/L', 'mg/L CaCO3')),
  ADD CONSTRAINT account_salinity_unit CHECK (salinity_unit IN ('PSU', 'SG 25/25', 'SG 20/20', 'SG 60F/60F', 'SG 20/4'));
