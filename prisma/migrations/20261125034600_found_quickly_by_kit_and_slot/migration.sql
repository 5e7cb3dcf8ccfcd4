-- What the watch asks every time, found without reading the whole table: in which systems a kit is used since when and
-- how often, when it was last used, and the surveyed light of a slot.
CREATE INDEX reading_of_kit ON reading (kit_id, system_id, at) INCLUDE (voided_at, trust, supersedes_id, slot_id) WHERE kit_id IS NOT NULL;
CREATE INDEX reading_by_kit ON reading (kit_id, at) WHERE kit_id IS NOT NULL;
CREATE INDEX slot_light_of_slot ON slot_light (slot_id);
