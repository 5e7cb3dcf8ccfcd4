-- A device that falls silent by its last will, or is heard again, is news for the watch. What merely comes on a topic is not.
CREATE TRIGGER mqtt_heard_facts_added AFTER INSERT ON mqtt_heard FOR EACH ROW
  WHEN (NEW.silent_since IS NOT NULL) EXECUTE FUNCTION mark_all('device');
CREATE TRIGGER mqtt_heard_facts_changed AFTER UPDATE ON mqtt_heard FOR EACH ROW
  WHEN (OLD.silent_since IS DISTINCT FROM NEW.silent_since) EXECUTE FUNCTION mark_all('device');
CREATE TRIGGER mqtt_heard_facts_gone AFTER DELETE ON mqtt_heard FOR EACH ROW
  WHEN (OLD.silent_since IS NOT NULL) EXECUTE FUNCTION mark_all('device');
CREATE TRIGGER mqtt_topic_facts AFTER INSERT OR UPDATE OR DELETE OR TRUNCATE ON mqtt_topic FOR EACH STATEMENT EXECUTE FUNCTION mark_all('device');
CREATE TRIGGER probe_name_facts_added AFTER INSERT OR DELETE ON probe_name FOR EACH ROW EXECUTE FUNCTION mark_all('device');
CREATE TRIGGER probe_name_facts_changed AFTER UPDATE ON probe_name FOR EACH ROW
  WHEN (OLD.system_id IS DISTINCT FROM NEW.system_id OR OLD.kit_id IS DISTINCT FROM NEW.kit_id) EXECUTE FUNCTION mark_all('device');
