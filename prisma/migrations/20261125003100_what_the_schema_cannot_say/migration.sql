-- The database defends its data: whatever writes to it, these hold.
-- Raised messages start with the constraint's name, since not every driver passes that name on.

CREATE EXTENSION IF NOT EXISTS btree_gist;

-- ------------------------------------------------------------ append-only tables

CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION '%_append_only: % is append-only', TG_TABLE_NAME, TG_TABLE_NAME USING ERRCODE = 'restrict_violation', CONSTRAINT = TG_TABLE_NAME || '_append_only';
END $$;

CREATE TRIGGER journal_line_append_only BEFORE UPDATE OR DELETE ON journal_line FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER ledger_entry_append_only BEFORE UPDATE OR DELETE ON ledger_entry FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER identification_append_only BEFORE UPDATE OR DELETE ON identification FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER alert_event_append_only BEFORE UPDATE OR DELETE ON alert_event FOR EACH ROW EXECUTE FUNCTION refuse_change();

-- A reading is never deleted, and what was measured never changes: only its standing does.
CREATE FUNCTION keep_reading() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' OR (NEW.system_id, NEW.quantity_code, NEW.at, NEW.value, NEW.below_detection, NEW.entered_text, NEW.entered_unit)
     IS DISTINCT FROM (OLD.system_id, OLD.quantity_code, OLD.at, OLD.value, OLD.below_detection, OLD.entered_text, OLD.entered_unit) THEN
    RAISE EXCEPTION 'reading_kept: a reading is not changed; supersede or void it' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'reading_kept';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER reading_kept BEFORE UPDATE OR DELETE ON reading FOR EACH ROW EXECUTE FUNCTION keep_reading();

-- An issued tag's record is frozen; it can only be withdrawn, once. It is deliberately possible for somebody with
-- the database's own rights to get past this: the signature then shows it.
CREATE FUNCTION keep_tag() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' OR (NEW.token, NEW.lot_id, NEW.pieces, NEW.issued_at, NEW.record, NEW.signature)
     IS DISTINCT FROM (OLD.token, OLD.lot_id, OLD.pieces, OLD.issued_at, OLD.record, OLD.signature) THEN
    RAISE EXCEPTION 'tag_frozen: an issued tag is frozen; withdraw it' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'tag_frozen';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER tag_frozen BEFORE UPDATE OR DELETE ON tag FOR EACH ROW EXECUTE FUNCTION keep_tag();

-- ------------------------------------------------------------ stock

ALTER TABLE lot ADD CONSTRAINT lot_pieces_not_negative CHECK (pieces >= 0),
  ADD CONSTRAINT lot_code_shape CHECK (code = upper(code) AND code <> ''),
  ADD CONSTRAINT lot_size_positive CHECK (size_mm > 0),
  ADD CONSTRAINT lot_not_own_parent CHECK (parent_id <> id);

ALTER TABLE ledger_entry ADD CONSTRAINT ledger_change_not_zero CHECK (change <> 0 OR reason = 'recount'),
  ADD CONSTRAINT ledger_change_direction CHECK (
    CASE WHEN reason IN ('received', 'cut_in') THEN change > 0
         WHEN reason IN ('lost', 'sold', 'cut_out') THEN change < 0
         ELSE true END);

-- The running count in order of time must not dip below zero anywhere; the lot's row is the lock.
CREATE FUNCTION count_ledger() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE lowest integer; total integer;
BEGIN
  PERFORM 1 FROM lot WHERE id = NEW.lot_id FOR UPDATE;
  SELECT min(running), sum(change) INTO lowest, total FROM (
    SELECT change, sum(change) OVER (ORDER BY at, id) AS running FROM ledger_entry WHERE lot_id = NEW.lot_id) AS counted;
  IF lowest < 0 THEN
    RAISE EXCEPTION 'ledger_not_below_zero: the count of this lot would fall below zero' USING ERRCODE = 'check_violation', CONSTRAINT = 'ledger_not_below_zero';
  END IF;
  UPDATE lot SET pieces = total WHERE id = NEW.lot_id;
  RETURN NULL;
END $$;
CREATE TRIGGER ledger_counts AFTER INSERT ON ledger_entry FOR EACH ROW EXECUTE FUNCTION count_ledger();

ALTER TABLE cut ADD CONSTRAINT cut_pieces_positive CHECK (pieces > 0), ADD CONSTRAINT cut_into_another CHECK (from_lot_id <> into_lot_id);

ALTER TABLE placement ADD CONSTRAINT placement_order CHECK (to_at > from_at),
  ADD CONSTRAINT placement_lot_once EXCLUDE USING gist (lot_id WITH =, tstzrange(from_at, to_at) WITH &&);

CREATE FUNCTION copy_placement_period() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  SELECT from_at, to_at INTO NEW.from_at, NEW.to_at FROM placement WHERE id = NEW.placement_id;
  RETURN NEW;
END $$;
CREATE TRIGGER placement_slot_period BEFORE INSERT OR UPDATE ON placement_slot FOR EACH ROW EXECUTE FUNCTION copy_placement_period();

CREATE FUNCTION spread_placement_period() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  UPDATE placement_slot SET slot_id = slot_id WHERE placement_id = NEW.id;
  RETURN NULL;
END $$;
CREATE TRIGGER placement_period AFTER UPDATE OF from_at, to_at ON placement FOR EACH ROW EXECUTE FUNCTION spread_placement_period();

ALTER TABLE placement_slot ADD CONSTRAINT placement_slot_free EXCLUDE USING gist (slot_id WITH =, tstzrange(from_at, to_at) WITH &&);

ALTER TABLE condition ADD CONSTRAINT condition_grade CHECK (grade BETWEEN 1 AND 3),
  ADD CONSTRAINT condition_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));

ALTER TABLE care_figure ADD CONSTRAINT care_figure_of_one CHECK (num_nonnulls(kind_id, lot_id) = 1),
  ADD CONSTRAINT care_figure_says_something CHECK (num_nonnulls(low, high, words) >= 1),
  ADD CONSTRAINT care_figure_order CHECK (low <= high);

ALTER TABLE kind ADD CONSTRAINT kind_tree CHECK ((rank = 'group') = (parent_id IS NULL));

-- ------------------------------------------------------------ farm

ALTER TABLE system ADD CONSTRAINT system_volume_positive CHECK (volume_l > 0 AND volume_l < 1e7);
ALTER TABLE system_quantity ADD CONSTRAINT system_quantity_band CHECK (band_low <= band_high);
ALTER TABLE tank ADD CONSTRAINT tank_size_positive CHECK (length_mm > 0 AND width_mm > 0 AND height_mm > 0);
ALTER TABLE rack ADD CONSTRAINT rack_grid CHECK (rows BETWEEN 1 AND 26 AND columns BETWEEN 1 AND 40),
  ADD CONSTRAINT rack_depth CHECK (depth_mm >= 0);
ALTER TABLE slot ADD CONSTRAINT slot_in_grid CHECK (row >= 1 AND "column" >= 1);
ALTER TABLE lamp ADD CONSTRAINT lamp_hours CHECK (lit_hours BETWEEN 0 AND 24 AND ramp_hours >= 0 AND 2 * ramp_hours <= lit_hours);
ALTER TABLE lamp_setting ADD CONSTRAINT lamp_percent CHECK (percent BETWEEN 0 AND 100);
ALTER TABLE light_survey ADD CONSTRAINT survey_factor CHECK (immersion_factor BETWEEN 1 AND 2),
  ADD CONSTRAINT survey_lamp_percent CHECK (lamp_percent > 0 AND lamp_percent <= 100),
  ADD CONSTRAINT survey_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE light_survey_point ADD CONSTRAINT point_par CHECK (raw >= 0 AND par >= 0 AND par < 3000);
ALTER TABLE slot_light ADD CONSTRAINT light_par CHECK (par >= 0 AND error >= 0);
ALTER TABLE site ADD CONSTRAINT site_digest_at CHECK (digest_at ~ '^([01]\d|2[0-3]):[0-5]\d$');

-- ------------------------------------------------------------ water

ALTER TABLE quantity ADD CONSTRAINT quantity_ranges CHECK (possible_low <= plausible_low AND plausible_low < plausible_high AND plausible_high <= possible_high);
ALTER TABLE method ADD CONSTRAINT method_uncertainty CHECK (absolute >= 0 AND relative >= 0 AND absolute + relative > 0 AND step > 0 AND detection_limit >= 0);
CREATE UNIQUE INDEX method_one_default ON method (quantity_code) WHERE is_default;
ALTER TABLE kit ADD CONSTRAINT kit_order CHECK (retired_at > opened_at);
ALTER TABLE check_reading ADD CONSTRAINT check_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE reading ADD CONSTRAINT reading_finite CHECK (value > '-Infinity' AND value < 'Infinity' AND uncertainty >= 0 AND uncertainty < 'Infinity'),
  ADD CONSTRAINT reading_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL)),
  ADD CONSTRAINT reading_not_own CHECK (supersedes_id <> id AND settled_by_id <> id);
CREATE INDEX reading_standing ON reading (system_id, quantity_code, at) WHERE voided_at IS NULL;
ALTER TABLE water_change ADD CONSTRAINT change_volume CHECK (volume_l > 0),
  ADD CONSTRAINT change_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE dose ADD CONSTRAINT dose_amount CHECK (amount > 0 AND amount < 'Infinity'),
  ADD CONSTRAINT dose_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE feeding ADD CONSTRAINT feeding_amounts CHECK (amount_g > 0 AND pumps_off_min BETWEEN 1 AND 240 AND pumps_on_at >= at),
  ADD CONSTRAINT feeding_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));

-- ------------------------------------------------------------ watch

CREATE UNIQUE INDEX alert_one_open ON alert (rule, subject_id, facet) WHERE cleared_at IS NULL;
CREATE INDEX alert_open ON alert (severity, opened_at) WHERE cleared_at IS NULL;
ALTER TABLE alert ADD CONSTRAINT alert_put_off_whole CHECK (num_nonnulls(put_off_until, put_off_reason, put_off_worst) IN (0, 3)),
  ADD CONSTRAINT alert_order CHECK (cleared_at >= opened_at);
CREATE UNIQUE INDEX rule_setting_one ON rule_setting
  (rule, coalesce(system_id, '00000000-0000-0000-0000-000000000000'), coalesce(kind_id, '00000000-0000-0000-0000-000000000000'));
ALTER TABLE rule_setting ADD CONSTRAINT rule_setting_scope CHECK (num_nonnulls(system_id, kind_id) <= 1);

-- ------------------------------------------------------------ rounds, tags, people

ALTER TABLE round_plan ADD CONSTRAINT round_plan_time CHECK (starts_at ~ '^([01]\d|2[0-3]):[0-5]\d$'),
  ADD CONSTRAINT round_plan_weekdays CHECK (weekdays <@ ARRAY[1, 2, 3, 4, 5, 6, 7]);
ALTER TABLE round ADD CONSTRAINT round_order CHECK (finished_at >= started_at);
ALTER TABLE tag ADD CONSTRAINT tag_pieces CHECK (pieces > 0),
  ADD CONSTRAINT tag_withdrawal CHECK ((withdrawn_at IS NULL) = (withdrawn_reason IS NULL));
ALTER TABLE account ADD CONSTRAINT account_email_lower CHECK (email = lower(email) AND email LIKE '%_@_%');
CREATE FUNCTION keep_an_owner() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF OLD.role = 'owner' AND OLD.disabled_at IS NULL
     AND NOT EXISTS (SELECT 1 FROM account WHERE role = 'owner' AND disabled_at IS NULL) THEN
    RAISE EXCEPTION 'account_last_owner: the last owner stays' USING ERRCODE = 'check_violation', CONSTRAINT = 'account_last_owner';
  END IF;
  RETURN NULL;
END $$;
CREATE TRIGGER account_last_owner AFTER UPDATE OR DELETE ON account FOR EACH ROW EXECUTE FUNCTION keep_an_owner();

