-- Which lot stands in a slot now: the index of all times (placement_slot_free) keeps times apart, and is slow to ask for one.
CREATE INDEX placement_slot_now ON placement_slot (slot_id, placement_id) WHERE to_at IS NULL;
