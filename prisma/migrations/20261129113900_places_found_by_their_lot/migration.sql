-- Where a lot stands now: the constraint's own index is slow to read, and every list of lots asks for each of its rows.
CREATE INDEX placement_now ON placement (lot_id) WHERE to_at IS NULL;
-- How a lot looked last, without sorting its looks.
CREATE INDEX condition_newest ON condition (lot_id, at DESC, id DESC) WHERE voided_at IS NULL;
