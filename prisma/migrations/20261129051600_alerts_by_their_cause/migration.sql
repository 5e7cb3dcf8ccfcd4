-- Lists count the open alerts that one explains: without this each count reads all of them.
CREATE INDEX alert_open_cause ON alert (cause_id) WHERE cleared_at IS NULL AND cause_id IS NOT NULL;
