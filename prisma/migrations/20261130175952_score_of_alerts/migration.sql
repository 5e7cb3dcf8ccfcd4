-- Lists of alerts are ordered by the finding's score. Beside the finding, worked out by the database itself, it is read without
-- unpacking each finding.
ALTER TABLE alert ADD COLUMN score double precision GENERATED ALWAYS AS (coalesce((finding ->> 'score')::double precision, 0)) STORED;

CREATE OR REPLACE VIEW open_alert AS
SELECT id, rule, subject_type, subject_id, facet, system_id, severity, title, finding, opened_at, seen_at, cause_id, put_off_until, put_off_reason,
       quiet_since, score
  FROM alert WHERE cleared_at IS NULL;
