-- Steps that bring an acute level to where stock can live follow each other within hours.
ALTER TABLE "correction_step" ADD COLUMN     "after_hours" DOUBLE PRECISION;

ALTER TABLE correction_step ADD CONSTRAINT correction_step_after_hours CHECK (after_hours > 0 AND after_hours <= 24);
