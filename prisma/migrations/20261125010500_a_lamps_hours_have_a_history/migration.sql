-- A longer day is more light: from when which hours were in force belongs to the lamp's settings, or the light that
-- lots have lived in would be reckoned with hours they never had.
ALTER TABLE "lamp_setting" ADD COLUMN "lit_hours" DOUBLE PRECISION, ADD COLUMN "ramp_hours" DOUBLE PRECISION;
ALTER TABLE lamp_setting ADD CONSTRAINT lamp_setting_hours
  CHECK ((lit_hours IS NULL) = (ramp_hours IS NULL) AND lit_hours BETWEEN 0 AND 24 AND ramp_hours >= 0 AND 2 * ramp_hours <= lit_hours);
