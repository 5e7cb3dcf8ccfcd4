-- CreateTable
CREATE TABLE "fact_mark" (
    "id" BIGSERIAL NOT NULL,
    "transaction" BIGINT NOT NULL,
    "part" TEXT NOT NULL,
    "system_id" UUID,
    "quantity_code" TEXT,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT clock_timestamp(),

    CONSTRAINT "fact_mark_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "fact_mark_transaction_idx" ON "fact_mark"("transaction");

-- Every change of what the watch reads leaves a mark in its own transaction: of the system it is of where that is known,
-- else of all. `touched` are the rows that were written, `former` what they were.
CREATE FUNCTION mark_facts(part text, systems uuid[], code text DEFAULT NULL) RETURNS void LANGUAGE sql AS $$
  INSERT INTO fact_mark (transaction, part, system_id, quantity_code)
  SELECT pg_current_xact_id()::text::bigint, part, system_id, code FROM unnest(systems) AS asked(system_id) GROUP BY system_id
$$;

CREATE FUNCTION mark_all() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts(TG_ARGV[0], ARRAY[NULL::uuid]);
  RETURN NULL;
END $$;

-- Nothing of a reading changes but how far it is trusted.
CREATE FUNCTION mark_readings() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts('reading', array_agg(DISTINCT system_id), quantity_code) FROM touched GROUP BY quantity_code;
  RETURN NULL;
END $$;

CREATE FUNCTION mark_system() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts(TG_ARGV[0], (SELECT array_agg(DISTINCT system_id) FROM touched));
  IF TG_OP = 'UPDATE' THEN
    PERFORM mark_facts(TG_ARGV[0], (SELECT array_agg(DISTINCT system_id) FROM former WHERE system_id NOT IN (SELECT system_id FROM touched)));
  END IF;
  RETURN NULL;
END $$;

CREATE FUNCTION mark_correction_steps() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts('correction', (SELECT array_agg(DISTINCT system_id) FROM correction WHERE id IN (SELECT correction_id FROM touched)));
  RETURN NULL;
END $$;

-- The light of a lot is that of the lots it was cut from as well: what changes where a lot with offspring stood may
-- change those anywhere.
CREATE FUNCTION mark_lots(lots uuid[], with_offspring boolean) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  IF with_offspring AND EXISTS (SELECT 1 FROM lot WHERE parent_id = ANY(lots)) THEN
    PERFORM mark_facts('lot', ARRAY[NULL::uuid]);
  ELSE
    PERFORM mark_facts('lot', (SELECT array_agg(DISTINCT system_id) FROM lot_place WHERE lot_id = ANY(lots)));
  END IF;
END $$;

CREATE FUNCTION mark_lots_themselves() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(id) FROM touched), false);
  RETURN NULL;
END $$;

CREATE FUNCTION mark_of_lots() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(lot_id) FROM touched), false);
  RETURN NULL;
END $$;

-- The first line of a lot's ledger says when it was split off, where no cut does.
CREATE FUNCTION mark_ledger() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(lot_id) FROM touched), EXISTS (
    SELECT 1 FROM touched WHERE NOT EXISTS (
      SELECT 1 FROM ledger_entry AS other WHERE other.lot_id = touched.lot_id AND other.id <> touched.id AND other.at <= touched.at)));
  RETURN NULL;
END $$;

CREATE FUNCTION mark_cuts() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(into_lot_id) FROM touched), true);
  RETURN NULL;
END $$;

CREATE FUNCTION mark_acclimations() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(lot_id) FROM acclimation_lot WHERE acclimation_id IN (SELECT id FROM touched)), false);
  RETURN NULL;
END $$;

CREATE FUNCTION mark_acclimation_steps() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(lot_id) FROM acclimation_lot WHERE acclimation_id IN (SELECT acclimation_id FROM touched)), false);
  RETURN NULL;
END $$;

-- The systems a placement lies in, and those of its lot where it stands now.
CREATE FUNCTION mark_moves(placements uuid[]) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(lot_id) FROM placement WHERE id = ANY(placements)), true);
  PERFORM mark_facts('lot', (SELECT array_agg(DISTINCT tank.system_id) FROM placement_slot
    JOIN slot ON slot.id = slot_id JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
   WHERE placement_id = ANY(placements)));
END $$;

CREATE FUNCTION mark_placements() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_moves((SELECT array_agg(id) FROM touched));
  RETURN NULL;
END $$;

-- Of slots taken away from a placement nothing else tells any more where they were.
CREATE FUNCTION mark_placement_slots() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_moves((SELECT array_agg(placement_id) FROM touched));
  IF TG_OP = 'DELETE' THEN
    PERFORM mark_facts('lot', (SELECT array_agg(DISTINCT tank.system_id) FROM touched
      JOIN slot ON slot.id = slot_id JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id));
  END IF;
  RETURN NULL;
END $$;

DO $$
DECLARE
  kind record;
BEGIN
  FOR kind IN SELECT * FROM (VALUES
    ('reading', 'mark_readings()'),
    ('water_change', 'mark_system(''water_change'')'),
    ('dose', 'mark_system(''dose'')'),
    ('feeding', 'mark_system(''feeding'')'),
    ('routine', 'mark_system(''routine'')'),
    ('correction', 'mark_system(''correction'')'),
    ('correction_step', 'mark_correction_steps()'),
    ('system_quantity', 'mark_system(''kept'')'),
    ('lot', 'mark_lots_themselves()'),
    ('condition', 'mark_of_lots()'),
    ('acclimation_lot', 'mark_of_lots()'),
    ('ledger_entry', 'mark_ledger()'),
    ('cut', 'mark_cuts()'),
    ('acclimation', 'mark_acclimations()'),
    ('acclimation_step', 'mark_acclimation_steps()'),
    ('placement', 'mark_placements()'),
    ('placement_slot', 'mark_placement_slots()')) AS marked(name, act)
  LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT ON %I REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION %s',
      kind.name || '_facts_added', kind.name, kind.act);
    EXECUTE format('CREATE TRIGGER %I AFTER UPDATE ON %I REFERENCING OLD TABLE AS former NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION %s',
      kind.name || '_facts_changed', kind.name, kind.act);
    EXECUTE format('CREATE TRIGGER %I AFTER DELETE ON %I REFERENCING OLD TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION %s',
      kind.name || '_facts_gone', kind.name, kind.act);
  END LOOP;
  FOR kind IN SELECT * FROM (VALUES
    ('site', 'all'), ('system', 'all'), ('quantity', 'all'), ('method', 'all'), ('kind', 'all'), ('care_figure', 'all'),
    ('kit', 'kit'), ('check_reading', 'kit'), ('kit_pair', 'kit'),
    ('tank', 'place'), ('rack', 'place'), ('slot', 'place'), ('rack_stand', 'place'), ('lamp', 'place'), ('lamp_setting', 'place'),
    ('light_survey', 'place'), ('slot_light', 'place')) AS marked(name, part)
  LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT OR UPDATE OR DELETE OR TRUNCATE ON %I FOR EACH STATEMENT EXECUTE FUNCTION mark_all(%L)',
      kind.name || '_facts', kind.name, kind.part);
  END LOOP;
END $$;
