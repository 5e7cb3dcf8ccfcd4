-- Notes of lots on rounds that were refused, and that no other note put right; "open" while nobody left them out either.
CREATE VIEW note_refused AS
SELECT entry.lot_id, entry.round_id, entry.at, (entry.detail -> 'mended') IS NULL AS open
  FROM round_entry AS entry
 WHERE entry.kind = 'refused' AND entry.lot_id IS NOT NULL AND (entry.detail #> '{mended,with}') IS NULL;
CREATE INDEX round_entry_refused ON round_entry (lot_id, round_id) WHERE kind = 'refused' AND lot_id IS NOT NULL;

-- Those that wait already.
UPDATE round_entry SET lot_id = (detail #>> '{sent,lotId}')::uuid
 WHERE kind = 'refused' AND lot_id IS NULL AND detail #>> '{sent,kind}' IN ('condition', 'count')
   AND detail #>> '{sent,lotId}' ~* '^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$';

-- As before. A pass says nothing of a lot whose own note on that round was not taken, nor of those that the tablet names
-- ("unsaid") because it holds a note of theirs that the service never had.
CREATE OR REPLACE VIEW lot_look AS
  SELECT lot.id AS lot_id,
         CASE WHEN noted.state IS NULL AND passed.at IS NOT NULL THEN 'well'::"ConditionState" ELSE noted.state END AS state,
         noted.grade,
         CASE WHEN coalesce(noted.state, 'well'::"ConditionState") = 'well' THEN greatest(noted.at, passed.at) ELSE noted.at END AS at
    FROM lot
    LEFT JOIN LATERAL (
      SELECT state, grade, at FROM condition WHERE lot_id = lot.id AND voided_at IS NULL ORDER BY at DESC, id DESC LIMIT 1) AS noted ON true
    LEFT JOIN LATERAL (
      SELECT max(last.at) AS at
        FROM (SELECT DISTINCT slot.rack_id, placement.from_at, placement.to_at
                FROM placement JOIN placement_slot ON placement_slot.placement_id = placement.id JOIN slot ON slot.id = placement_slot.slot_id
               WHERE placement.lot_id = lot.id AND coalesce(noted.state, 'well'::"ConditionState") = 'well'
                 AND (noted.at IS NULL OR placement.to_at IS NULL OR placement.to_at > noted.at)) AS stay
        JOIN LATERAL (
          SELECT at FROM round_entry
           WHERE kind = 'rack_well' AND round_entry.rack_id = stay.rack_id AND at >= stay.from_at AND (stay.to_at IS NULL OR at < stay.to_at)
             AND NOT coalesce(detail -> 'unsaid' ? lot.id::text, false)
             AND NOT EXISTS (SELECT FROM note_refused WHERE note_refused.lot_id = lot.id AND note_refused.round_id = round_entry.round_id)
           ORDER BY at DESC LIMIT 1) AS last ON true) AS passed ON true
   WHERE noted.at IS NOT NULL OR passed.at IS NOT NULL;

CREATE OR REPLACE VIEW lot_passed AS
SELECT placement.lot_id, round_entry.id AS entry_id, round_entry.at
  FROM placement
  JOIN placement_slot ON placement_slot.placement_id = placement.id
  JOIN slot ON slot.id = placement_slot.slot_id
  JOIN round_entry ON round_entry.kind = 'rack_well' AND round_entry.rack_id = slot.rack_id
   AND round_entry.at >= placement.from_at AND (placement.to_at IS NULL OR round_entry.at < placement.to_at)
   AND NOT coalesce(round_entry.detail -> 'unsaid' ? placement.lot_id::text, false)
   AND NOT EXISTS (SELECT FROM note_refused WHERE note_refused.lot_id = placement.lot_id AND note_refused.round_id = round_entry.round_id);

-- As before, and of which lots the last pass says nothing.
CREATE OR REPLACE VIEW rack_passed AS
  SELECT rack.id AS rack_id, last.at, last.unsaid
    FROM rack CROSS JOIN LATERAL (
      SELECT at, detail -> 'unsaid' AS unsaid FROM round_entry WHERE kind = 'rack_well' AND round_entry.rack_id = rack.id ORDER BY at DESC LIMIT 1) AS last;
