-- AlterTable
ALTER TABLE "journal_line" ADD COLUMN     "site_id" UUID;

-- AlterTable
ALTER TABLE "import" ADD COLUMN     "site_id" UUID;

-- AlterTable
ALTER TABLE "limit_trial" ADD COLUMN     "site_id" UUID;

-- The site of what a line of the journal is about; null for what is the whole farm's.
CREATE FUNCTION site_of(noun text, sought uuid) RETURNS uuid LANGUAGE plpgsql STABLE AS $$
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

-- What was taken away before its line was written had lines before: it was where they say.
CREATE FUNCTION say_site_of_line() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  NEW.site_id := coalesce(NEW.site_id, site_of(NEW.subject_type, NEW.subject_id), (
    SELECT site_id FROM journal_line WHERE subject_id = NEW.subject_id AND subject_type = NEW.subject_type
     ORDER BY at DESC LIMIT 1));
  RETURN NEW;
END $$;
CREATE TRIGGER journal_line_site BEFORE INSERT ON journal_line FOR EACH ROW EXECUTE FUNCTION say_site_of_line();

UPDATE import SET site_id = coalesce(
  (SELECT site_id FROM lot WHERE import_id = import.id LIMIT 1),
  (SELECT system.site_id FROM reading JOIN system ON system.id = reading.system_id WHERE import_id = import.id LIMIT 1),
  (SELECT id FROM site ORDER BY created_at, id LIMIT 1));
ALTER TABLE "import" ALTER COLUMN "site_id" SET NOT NULL;

UPDATE limit_trial SET site_id = coalesce(
  (SELECT site_id FROM system WHERE id = system_id), (SELECT id FROM site ORDER BY created_at, id LIMIT 1));
ALTER TABLE "limit_trial" ALTER COLUMN "site_id" SET NOT NULL;

ALTER TABLE journal_line DISABLE TRIGGER journal_line_append_only;
UPDATE journal_line SET site_id = site_of(subject_type, subject_id) WHERE site_of(subject_type, subject_id) IS NOT NULL;
ALTER TABLE journal_line ENABLE TRIGGER journal_line_append_only;

-- Slots are taken away while nothing rests on them: found without a walk over all readings.
CREATE INDEX reading_slot_id_idx ON reading (slot_id) WHERE slot_id IS NOT NULL;

-- AddForeignKey
ALTER TABLE "tablet" ADD CONSTRAINT "tablet_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "account_link" ADD CONSTRAINT "account_link_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "session" ADD CONSTRAINT "session_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "backup" ADD CONSTRAINT "backup_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "journal_line" ADD CONSTRAINT "journal_line_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "journal_line" ADD CONSTRAINT "journal_line_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "request_key" ADD CONSTRAINT "request_key_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "access_key" ADD CONSTRAINT "access_key_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "lamp_setting" ADD CONSTRAINT "lamp_setting_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack_stand" ADD CONSTRAINT "rack_stand_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack_stand" ADD CONSTRAINT "rack_stand_lamp_id_fkey" FOREIGN KEY ("lamp_id") REFERENCES "lamp"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack_stand" ADD CONSTRAINT "rack_stand_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "equipment" ADD CONSTRAINT "equipment_seen_running_by_id_fkey" FOREIGN KEY ("seen_running_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "upkeep" ADD CONSTRAINT "upkeep_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "switched_off" ADD CONSTRAINT "switched_off_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "switched_off" ADD CONSTRAINT "switched_off_keeper_id_fkey" FOREIGN KEY ("keeper_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "switched_off" ADD CONSTRAINT "switched_off_offered_to_id_fkey" FOREIGN KEY ("offered_to_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "switched_off" ADD CONSTRAINT "switched_off_seen_running_by_id_fkey" FOREIGN KEY ("seen_running_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "off_time" ADD CONSTRAINT "off_time_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "fault" ADD CONSTRAINT "fault_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "fault" ADD CONSTRAINT "fault_round_id_fkey" FOREIGN KEY ("round_id") REFERENCES "round"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "fault" ADD CONSTRAINT "fault_mended_by_id_fkey" FOREIGN KEY ("mended_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "system_event" ADD CONSTRAINT "system_event_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "look" ADD CONSTRAINT "look_done_by_id_fkey" FOREIGN KEY ("done_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "light_survey" ADD CONSTRAINT "light_survey_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "lot" ADD CONSTRAINT "lot_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "identification" ADD CONSTRAINT "identification_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "ledger_entry" ADD CONSTRAINT "ledger_entry_tag_id_fkey" FOREIGN KEY ("tag_id") REFERENCES "tag"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "ledger_entry" ADD CONSTRAINT "ledger_entry_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "cut" ADD CONSTRAINT "cut_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "placement" ADD CONSTRAINT "placement_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "condition" ADD CONSTRAINT "condition_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "acclimation" ADD CONSTRAINT "acclimation_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "acclimation" ADD CONSTRAINT "acclimation_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "acclimation_step" ADD CONSTRAINT "acclimation_step_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "acclimation_step" ADD CONSTRAINT "acclimation_step_lamp_id_fkey" FOREIGN KEY ("lamp_id") REFERENCES "lamp"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "acclimation_step" ADD CONSTRAINT "acclimation_step_done_by_id_fkey" FOREIGN KEY ("done_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "move_plan" ADD CONSTRAINT "move_plan_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "move_plan" ADD CONSTRAINT "move_plan_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "planned_move" ADD CONSTRAINT "planned_move_done_by_id_fkey" FOREIGN KEY ("done_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "photo" ADD CONSTRAINT "photo_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "hold" ADD CONSTRAINT "hold_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "sale" ADD CONSTRAINT "sale_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kit" ADD CONSTRAINT "kit_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "check_reading" ADD CONSTRAINT "check_reading_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kit_pair" ADD CONSTRAINT "kit_pair_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_slot_id_fkey" FOREIGN KEY ("slot_id") REFERENCES "slot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_access_key_id_fkey" FOREIGN KEY ("access_key_id") REFERENCES "access_key"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "water_change" ADD CONSTRAINT "water_change_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "dose" ADD CONSTRAINT "dose_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "dose" ADD CONSTRAINT "dose_access_key_id_fkey" FOREIGN KEY ("access_key_id") REFERENCES "access_key"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "feeding" ADD CONSTRAINT "feeding_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "correction" ADD CONSTRAINT "correction_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "correction_step" ADD CONSTRAINT "correction_step_done_by_id_fkey" FOREIGN KEY ("done_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "routine" ADD CONSTRAINT "routine_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "import" ADD CONSTRAINT "import_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "import" ADD CONSTRAINT "import_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "emergency" ADD CONSTRAINT "emergency_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "emergency" ADD CONSTRAINT "emergency_ended_by_id_fkey" FOREIGN KEY ("ended_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "emergency_entry" ADD CONSTRAINT "emergency_entry_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rule_setting" ADD CONSTRAINT "rule_setting_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rule_setting" ADD CONSTRAINT "rule_setting_kind_id_fkey" FOREIGN KEY ("kind_id") REFERENCES "kind"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rule_setting" ADD CONSTRAINT "rule_setting_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "alert" ADD CONSTRAINT "alert_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "alert" ADD CONSTRAINT "alert_seen_by_id_fkey" FOREIGN KEY ("seen_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "alert" ADD CONSTRAINT "alert_put_off_by_id_fkey" FOREIGN KEY ("put_off_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "alert_event" ADD CONSTRAINT "alert_event_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "limit_trial" ADD CONSTRAINT "limit_trial_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "limit_trial" ADD CONSTRAINT "limit_trial_kind_id_fkey" FOREIGN KEY ("kind_id") REFERENCES "kind"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "limit_trial" ADD CONSTRAINT "limit_trial_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "limit_trial" ADD CONSTRAINT "limit_trial_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round_plan" ADD CONSTRAINT "round_plan_assignee_id_fkey" FOREIGN KEY ("assignee_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round_plan_day" ADD CONSTRAINT "round_plan_day_assignee_id_fkey" FOREIGN KEY ("assignee_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round_plan_day" ADD CONSTRAINT "round_plan_day_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round_plan_tank" ADD CONSTRAINT "round_plan_tank_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round" ADD CONSTRAINT "round_started_by_id_fkey" FOREIGN KEY ("started_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round_entry" ADD CONSTRAINT "round_entry_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "digest" ADD CONSTRAINT "digest_made_again_by_id_fkey" FOREIGN KEY ("made_again_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tag" ADD CONSTRAINT "tag_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
