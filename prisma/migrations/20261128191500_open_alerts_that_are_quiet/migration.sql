-- An open alert whose rule finds nothing any more waits for its quiet time: others may want to know.
CREATE OR REPLACE VIEW open_alert AS
SELECT id, rule, subject_type, subject_id, facet, system_id, severity, title, finding, opened_at, seen_at, cause_id, put_off_until, put_off_reason,
       quiet_since
  FROM alert WHERE cleared_at IS NULL;
