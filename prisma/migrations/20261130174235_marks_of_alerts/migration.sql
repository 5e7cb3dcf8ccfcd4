-- Pages keep which lots the open alerts tell of. A mark of the system is left where that changes; an evaluation that finds
-- the same leaves none.
CREATE FUNCTION mark_alerts() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts('alert', (
    SELECT array_agg(DISTINCT told.system_id) FROM former JOIN touched USING (id)
     CROSS JOIN LATERAL (VALUES (former.system_id), (touched.system_id)) AS told(system_id)
     WHERE (former.system_id, former.severity, former.put_off_until, former.cleared_at, former.told_lots)
           IS DISTINCT FROM (touched.system_id, touched.severity, touched.put_off_until, touched.cleared_at, touched.told_lots)));
  RETURN NULL;
END $$;
CREATE TRIGGER alert_facts_added AFTER INSERT ON alert REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION mark_system('alert');
CREATE TRIGGER alert_facts_changed AFTER UPDATE ON alert REFERENCING OLD TABLE AS former NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION mark_alerts();
CREATE TRIGGER alert_facts_gone AFTER DELETE ON alert REFERENCING OLD TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION mark_system('alert');
