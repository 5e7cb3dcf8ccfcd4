-- The site of what a line of the journal is about; null for what is the whole farm's.
CREATE OR REPLACE FUNCTION site_of(noun text, sought uuid) RETURNS uuid LANGUAGE plpgsql STABLE AS $$
BEGIN
  RETURN CASE noun
    WHEN 'acclimation' THEN (SELECT site_id FROM acclimation WHERE id = sought)
    WHEN 'alert' THEN (SELECT system.site_id FROM alert AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'circuit' THEN (SELECT site_id FROM circuit WHERE id = sought)
    WHEN 'contact' THEN (SELECT site_id FROM contact WHERE id = sought)
    WHEN 'correction' THEN (SELECT system.site_id FROM correction AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'digest' THEN (SELECT site_id FROM digest WHERE id = sought)
    WHEN 'dose' THEN (SELECT system.site_id FROM dose AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'emergency' THEN (SELECT site_id FROM emergency WHERE id = sought)
    WHEN 'equipment' THEN (SELECT system.site_id FROM equipment AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'fault' THEN (SELECT system.site_id FROM fault AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'feeding' THEN (SELECT system.site_id FROM feeding AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'import' THEN (SELECT site_id FROM import WHERE id = sought)
    WHEN 'lamp' THEN (SELECT system.site_id FROM lamp AS it JOIN tank ON tank.id = it.tank_id JOIN system ON system.id = tank.system_id WHERE it.id = sought)
    WHEN 'letter' THEN (SELECT digest.site_id FROM letter AS it JOIN digest ON digest.id = it.digest_id WHERE it.id = sought)
    WHEN 'lot' THEN (SELECT site_id FROM lot WHERE id = sought)
    WHEN 'move_plan' THEN (SELECT site_id FROM move_plan WHERE id = sought)
    WHEN 'rack' THEN (SELECT system.site_id FROM rack AS it JOIN tank ON tank.id = it.tank_id JOIN system ON system.id = tank.system_id WHERE it.id = sought)
    WHEN 'reading' THEN (SELECT system.site_id FROM reading AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'room' THEN (SELECT site_id FROM room WHERE id = sought)
    WHEN 'round' THEN (SELECT plan.site_id FROM round AS it JOIN round_plan AS plan ON plan.id = it.plan_id WHERE it.id = sought)
    WHEN 'round_entry' THEN (SELECT plan.site_id FROM round_entry AS it JOIN round ON round.id = it.round_id JOIN round_plan AS plan ON plan.id = round.plan_id WHERE it.id = sought)
    WHEN 'round_plan' THEN (SELECT site_id FROM round_plan WHERE id = sought)
    WHEN 'routine' THEN (SELECT system.site_id FROM routine AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'site' THEN (SELECT id FROM site WHERE id = sought)
    WHEN 'switched_off' THEN (SELECT system.site_id FROM switched_off AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'system' THEN (SELECT site_id FROM system WHERE id = sought)
    WHEN 'system_event' THEN (SELECT system.site_id FROM system_event AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'tag' THEN (SELECT lot.site_id FROM tag AS it JOIN lot ON lot.id = it.lot_id WHERE it.id = sought)
    WHEN 'tank' THEN (SELECT system.site_id FROM tank AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
    WHEN 'water_change' THEN (SELECT system.site_id FROM water_change AS it JOIN system ON system.id = it.system_id WHERE it.id = sought)
  END;
END $$;

ALTER TABLE journal_line DISABLE TRIGGER journal_line_append_only;
UPDATE journal_line SET site_id = site_of(subject_type, subject_id) WHERE subject_type = 'room' AND site_id IS NULL;
ALTER TABLE journal_line ENABLE TRIGGER journal_line_append_only;
