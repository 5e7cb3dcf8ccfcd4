-- What is wrong with a whole water, so that nothing is begun there that can wait: an urgent alert on the system, but for pests,
-- which have rules of their own, and looks that are overdue, which say nothing of the water; a level outside a band that somebody
-- chose, or harmful, that nobody put off; and a trouble that somebody reported and that has not ended.
CREATE VIEW water_trouble AS
SELECT id, system_id, severity, title, opened_at
  FROM alert
 WHERE cleared_at IS NULL AND subject_type = 'system'
   AND (severity = 'now' AND rule NOT IN ('pest-in-water', 'look-overdue')
        OR severity = 'today' AND rule = 'out-of-band' AND put_off_until IS NULL AND unchosen_band IS NOT TRUE)
UNION ALL
SELECT emergency.id, own.system_id, 'now'::"Severity", 'reported trouble “' || emergency.title || '”', emergency.started_at
  FROM emergency JOIN emergency_system AS own ON own.emergency_id = emergency.id
 WHERE emergency.ended_at IS NULL;
