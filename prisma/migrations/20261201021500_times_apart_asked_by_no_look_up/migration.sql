-- These indexes keep times apart. The server reckoned them the cheapest way to one slot or lot as well, where they take ten times
-- as long as the plain indexes beside them, and longer with each stay. An index of an expression is left out of such look-ups.
ALTER TABLE placement
  DROP CONSTRAINT placement_lot_once,
  ADD CONSTRAINT placement_lot_once EXCLUDE USING gist (coalesce(lot_id, lot_id) WITH =, tstzrange(from_at, to_at) WITH &&);
ALTER TABLE placement_slot
  DROP CONSTRAINT placement_slot_free,
  ADD CONSTRAINT placement_slot_free EXCLUDE USING gist (coalesce(slot_id, slot_id) WITH =, tstzrange(from_at, to_at) WITH &&);
