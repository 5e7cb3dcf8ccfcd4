-- What the water of a change held where it was not the system's usual make-up water: an object of quantity code to
-- canonical value. What it does not name came in as the usual make-up water holds it.
ALTER TABLE "water_change" ADD COLUMN "make_up" JSONB;
ALTER TABLE "water_change" ADD CONSTRAINT water_change_make_up_is_named CHECK (make_up IS NULL OR jsonb_typeof(make_up) = 'object');
