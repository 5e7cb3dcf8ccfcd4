-- A level that is only outside a band that nobody chose holds up no sale: what the finding says of that, as a column, so that
-- it cannot differ from the finding, and a mark where it changes.
ALTER TABLE "alert" ADD COLUMN "unchosen_band" BOOLEAN GENERATED ALWAYS AS (coalesce((finding ->> 'unchosenBand')::boolean, false)) STORED;

CREATE OR REPLACE FUNCTION mark_alerts() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts('alert', (
    SELECT array_agg(DISTINCT told.system_id) FROM former JOIN touched USING (id)
     CROSS JOIN LATERAL (VALUES (former.system_id), (touched.system_id)) AS told(system_id)
     WHERE (former.system_id, former.severity, former.put_off_until, former.cleared_at, former.told_lots, former.unchosen_band)
           IS DISTINCT FROM (touched.system_id, touched.severity, touched.put_off_until, touched.cleared_at, touched.told_lots, touched.unchosen_band)));
  RETURN NULL;
END $$;
