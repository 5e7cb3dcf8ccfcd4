-- A rack passed as well is a look at the lots that stood on it then, wherever they were moved since. Where a lot stood is
-- asked first, then the last pass of each stay: one row of the index a stay, however many rounds there were.
CREATE OR REPLACE VIEW lot_look AS
SELECT lot.id AS lot_id,
       CASE WHEN noted.state IS NULL AND passed.at IS NOT NULL THEN 'well'::"ConditionState" ELSE noted.state END AS state,
       noted.grade,
       CASE WHEN coalesce(noted.state, 'well') = 'well' THEN greatest(noted.at, passed.at) ELSE noted.at END AS at
  FROM lot
  LEFT JOIN LATERAL (SELECT state, grade, at FROM condition WHERE lot_id = lot.id AND voided_at IS NULL
                      ORDER BY at DESC, id DESC LIMIT 1) AS noted ON true
  LEFT JOIN LATERAL (SELECT max(last.at) AS at
                       FROM (SELECT DISTINCT slot.rack_id, placement.from_at, placement.to_at
                               FROM placement JOIN placement_slot ON placement_slot.placement_id = placement.id
                               JOIN slot ON slot.id = placement_slot.slot_id
                              WHERE placement.lot_id = lot.id) AS stay
                       JOIN LATERAL (SELECT round_entry.at FROM round_entry
                                      WHERE round_entry.kind = 'rack_well' AND round_entry.rack_id = stay.rack_id
                                        AND round_entry.at >= stay.from_at AND (stay.to_at IS NULL OR round_entry.at < stay.to_at)
                                      ORDER BY round_entry.at DESC LIMIT 1) AS last ON true) AS passed ON true
 WHERE noted.at IS NOT NULL OR passed.at IS NOT NULL;
