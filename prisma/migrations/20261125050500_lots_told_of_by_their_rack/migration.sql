-- The open alerts that tell of a lot: its own, and those on its rack or lamps that tell of several lots at once.
CREATE VIEW lot_alert AS
SELECT subject_id AS lot_id, id, rule, severity, title, finding, opened_at, put_off_until
  FROM open_alert WHERE subject_type = 'lot'
UNION ALL
SELECT told.lot_id::uuid, id, rule, severity, title, finding, opened_at, put_off_until
  FROM open_alert, jsonb_array_elements_text(finding -> 'lots') AS told(lot_id)
 WHERE subject_type IN ('rack', 'lamp') AND jsonb_typeof(finding -> 'lots') = 'array';
