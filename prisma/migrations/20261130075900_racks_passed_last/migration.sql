-- When each rack was last passed as well on a round.
CREATE VIEW rack_passed AS
  SELECT rack.id AS rack_id, last.at
    FROM rack CROSS JOIN LATERAL (
      SELECT at FROM round_entry WHERE kind = 'rack_well' AND round_entry.rack_id = rack.id ORDER BY at DESC LIMIT 1) AS last;

-- As before. A pass counts only after the last look that was noted, and only where that found the lot well: no others are
-- looked for.
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
           ORDER BY at DESC LIMIT 1) AS last ON true) AS passed ON true
   WHERE noted.at IS NOT NULL OR passed.at IS NOT NULL;
