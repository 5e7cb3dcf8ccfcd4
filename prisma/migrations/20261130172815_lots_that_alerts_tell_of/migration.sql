-- The lots that an alert tells of stand beside its finding, so that pages need not unpack each finding for them. The database
-- works them out of the row itself: they cannot differ from it.
CREATE FUNCTION lots_told_of(subject_type text, subject_id uuid, finding jsonb) RETURNS uuid[] LANGUAGE plpgsql IMMUTABLE PARALLEL SAFE AS $$
BEGIN
  IF subject_type = 'lot' THEN
    RETURN ARRAY[subject_id];
  ELSIF subject_type IN ('rack', 'lamp') AND jsonb_typeof(finding -> 'lots') = 'array' THEN
    RETURN (SELECT array_agg(told.lot::uuid ORDER BY told.place) FROM jsonb_array_elements_text(finding -> 'lots') WITH ORDINALITY AS told(lot, place));
  END IF;
  RETURN NULL;
END $$;

ALTER TABLE alert ADD COLUMN told_lots uuid[] GENERATED ALWAYS AS (lots_told_of(subject_type, subject_id, finding)) STORED;

-- The open alerts that tell of a lot: its own, and those on its rack or lamps that tell of several lots at once.
CREATE OR REPLACE VIEW lot_alert AS
SELECT told.lot_id, id, rule, severity, title, finding, opened_at, put_off_until
  FROM alert, unnest(told_lots) AS told(lot_id) WHERE cleared_at IS NULL;
