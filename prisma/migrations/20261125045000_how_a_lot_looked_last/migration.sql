-- How each lot looked last, and when somebody saw it. A rack passed as well is a look at the lots on it that were well
-- before; it does not say that one that was not has recovered.
CREATE INDEX round_entry_rack_well ON round_entry (rack_id, at) WHERE kind = 'rack_well';
CREATE VIEW lot_look AS
SELECT lot.id AS lot_id,
       CASE WHEN noted.state IS NULL AND passed.at IS NOT NULL THEN 'well'::"ConditionState" ELSE noted.state END AS state,
       noted.grade,
       CASE WHEN coalesce(noted.state, 'well') = 'well' THEN greatest(noted.at, passed.at) ELSE noted.at END AS at
  FROM lot
  LEFT JOIN LATERAL (SELECT state, grade, at FROM condition WHERE lot_id = lot.id AND voided_at IS NULL
                      ORDER BY at DESC, id DESC LIMIT 1) AS noted ON true
  LEFT JOIN LATERAL (SELECT max(round_entry.at) AS at
                       FROM (SELECT DISTINCT rack_id, from_at FROM lot_place WHERE lot_id = lot.id) AS place
                       JOIN round_entry ON round_entry.kind = 'rack_well' AND round_entry.rack_id = place.rack_id AND round_entry.at >= place.from_at) AS passed ON true
 WHERE noted.at IS NOT NULL OR passed.at IS NOT NULL;
