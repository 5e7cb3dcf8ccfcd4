-- Every page asks for pumps that are off; there are seldom more than a few among all feedings ever logged.
CREATE INDEX feeding_pumps_off ON feeding (system_id) WHERE pumps_off_min IS NOT NULL AND pumps_on_at IS NULL AND voided_at IS NULL;
