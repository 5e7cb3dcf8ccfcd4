-- Rounds on which a lot's rack was passed as well while it stood there. Whether that says the lot was well is for the
-- reader: it says so of a lot that was well before, not of one that was not.
CREATE VIEW lot_passed AS
SELECT placement.lot_id, round_entry.id AS entry_id, round_entry.at
  FROM placement
  JOIN placement_slot ON placement_slot.placement_id = placement.id
  JOIN slot ON slot.id = placement_slot.slot_id
  JOIN round_entry ON round_entry.kind = 'rack_well' AND round_entry.rack_id = slot.rack_id
   AND round_entry.at >= placement.from_at AND (placement.to_at IS NULL OR round_entry.at < placement.to_at);

-- A pass that a tablet brings later can lie before a look at which a lot was not well: then it says until when it was.
CREATE FUNCTION mark_passed_racks() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(DISTINCT lot_passed.lot_id) FROM touched
    JOIN lot_passed ON lot_passed.entry_id = touched.id
   WHERE touched.kind = 'rack_well'
     AND EXISTS (SELECT 1 FROM condition WHERE condition.lot_id = lot_passed.lot_id AND condition.at > touched.at AND condition.voided_at IS NULL)), false);
  RETURN NULL;
END $$;
CREATE TRIGGER round_entry_facts_added AFTER INSERT ON round_entry REFERENCING NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_passed_racks();
-- An entry is saved under its key first, and with what it did afterwards.
CREATE TRIGGER round_entry_facts_changed AFTER UPDATE ON round_entry REFERENCING OLD TABLE AS former NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_passed_racks();
