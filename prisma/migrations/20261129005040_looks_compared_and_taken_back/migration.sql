-- CreateEnum
CREATE TYPE "Comparison" AS ENUM ('as_before', 'better', 'worse');

-- AlterTable
ALTER TABLE "condition" ADD COLUMN     "compared" "Comparison";

-- A look that says "as before" repeats a state that was not well; it never says that a lot is well.
ALTER TABLE condition ADD CONSTRAINT condition_compared CHECK (compared IS NULL OR state <> 'well');

-- A pass that is taken back says nothing any more of the lots that stood there.
CREATE FUNCTION mark_passes_taken_back() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(DISTINCT placement.lot_id)
    FROM former
    JOIN touched ON touched.id = former.id AND touched.kind <> 'rack_well'
    JOIN slot ON slot.rack_id = former.rack_id
    JOIN placement_slot ON placement_slot.slot_id = slot.id
    JOIN placement ON placement.id = placement_slot.placement_id
   WHERE former.kind = 'rack_well' AND former.at >= placement.from_at AND (placement.to_at IS NULL OR former.at < placement.to_at)), false);
  RETURN NULL;
END $$;
CREATE TRIGGER round_entry_facts_taken_back AFTER UPDATE ON round_entry REFERENCING OLD TABLE AS former NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_passes_taken_back();
