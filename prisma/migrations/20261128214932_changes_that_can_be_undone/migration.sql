-- CreateTable
CREATE TABLE "undoable_change" (
    "id" UUID NOT NULL,
    "account_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "subjects" JSONB NOT NULL DEFAULT '[]',
    "systems" UUID[] DEFAULT ARRAY[]::UUID[],
    "undone_at" TIMESTAMPTZ(3),

    CONSTRAINT "undoable_change_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "undoable_row" (
    "id" BIGSERIAL NOT NULL,
    "change_id" UUID NOT NULL,
    "table_name" TEXT NOT NULL,
    "before" JSONB,
    "after" JSONB,

    CONSTRAINT "undoable_row_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "undoable_change_at_idx" ON "undoable_change"("at");

-- CreateIndex
CREATE INDEX "undoable_row_change_id_id_idx" ON "undoable_row"("change_id", "id");

-- AddForeignKey
ALTER TABLE "undoable_row" ADD CONSTRAINT "undoable_row_change_id_fkey" FOREIGN KEY ("change_id") REFERENCES "undoable_change"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- What a person's change did to rows, so that it can be undone for some minutes. Written only while `change()` names the
-- change in a setting of the transaction.
CREATE FUNCTION keep_row_for_undo() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  INSERT INTO undoable_row (change_id, table_name, before, after)
  VALUES (current_setting('evenwater.change')::uuid, TG_TABLE_NAME,
    CASE WHEN TG_OP = 'INSERT' THEN NULL ELSE to_jsonb(OLD) END,
    CASE WHEN TG_OP = 'DELETE' THEN NULL ELSE to_jsonb(NEW) END);
  RETURN NULL;
END $$;

DO $$
DECLARE name text;
BEGIN
  FOREACH name IN ARRAY ARRAY['acclimation', 'acclimation_lot', 'acclimation_step', 'care_figure', 'check_reading', 'circuit',
      'condition', 'contact', 'dose', 'equipment', 'fault', 'feeding', 'hold', 'kind', 'kit', 'kit_pair', 'label_sheet', 'lamp',
      'lamp_setting', 'lot', 'method', 'off_time', 'placement', 'placement_slot', 'quantity', 'rack', 'rack_stand', 'reading',
      'round_plan', 'round_plan_day', 'round_plan_tank', 'routine', 'rule_setting', 'site', 'slot', 'switched_off', 'system',
      'system_event', 'system_quantity', 'tank', 'upkeep', 'water_change'] LOOP
    EXECUTE format('CREATE TRIGGER %I AFTER INSERT OR UPDATE OR DELETE ON %I FOR EACH ROW
      WHEN (coalesce(current_setting(''evenwater.change'', true), '''') <> '''') EXECUTE FUNCTION keep_row_for_undo()',
      'undo_' || name, name);
  END LOOP;
END $$;

-- Puts back what a change did, last row first. A row that was changed since refuses it, as does whatever rests on a row that
-- would go. An entry that can be voided is voided and stays in view; its count of versions goes on, so that no page drawn
-- meanwhile is taken for a new one.
CREATE FUNCTION undo_change(undone uuid, undone_at timestamptz) RETURNS void LANGUAGE plpgsql AS $$
DECLARE
  step record;
  image jsonb;
  keys text;
  sets text;
  found jsonb;
BEGIN
  FOR step IN SELECT table_name AS name, before, after FROM undoable_row WHERE change_id = undone ORDER BY id DESC LOOP
    image := coalesce(step.after, step.before);
    SELECT string_agg(format('%I = (jsonb_populate_record(NULL::%I, $1)).%I', a.attname, step.name, a.attname), ' AND ') INTO keys
      FROM pg_index i JOIN pg_attribute a ON a.attrelid = i.indrelid AND a.attnum = ANY (i.indkey)
     WHERE i.indrelid = step.name::regclass AND i.indisprimary;
    EXECUTE format('SELECT to_jsonb(t) FROM %I AS t WHERE %s FOR UPDATE', step.name, keys) INTO found USING image;
    -- What a trigger has put back already, with the row it belongs to.
    CONTINUE WHEN found IS NOT DISTINCT FROM step.before
      OR (step.before IS NOT NULL AND found IS NOT NULL AND found - 'version' = step.before - 'version');
    IF found - 'version' IS DISTINCT FROM step.after - 'version' THEN
      RAISE EXCEPTION 'undo_changed_since: % was changed since', step.name
        USING ERRCODE = 'restrict_violation', CONSTRAINT = 'undo_changed_since';
    END IF;
    IF step.after IS NULL THEN
      SELECT string_agg(quote_ident(a.attname), ', ') INTO sets FROM pg_attribute a
       WHERE a.attrelid = step.name::regclass AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = '';
      EXECUTE format('INSERT INTO %1$I (%2$s) SELECT %2$s FROM jsonb_populate_record(NULL::%1$I, $1)', step.name, sets)
        USING step.before;
    ELSIF step.before IS NULL AND step.after ? 'voided_at' THEN
      EXECUTE format('UPDATE %I SET voided_at = $2, void_reason = $3 WHERE %s', step.name, keys)
        USING image, undone_at, 'Undone right after it was saved';
    ELSIF step.before IS NULL THEN
      EXECUTE format('DELETE FROM %I WHERE %s', step.name, keys) USING image;
    ELSE
      SELECT string_agg(CASE WHEN a.attname = 'version' THEN 'version = version + 1'
          ELSE format('%1$I = (jsonb_populate_record(NULL::%2$I, $2)).%1$I', a.attname, step.name) END, ', ') INTO sets
        FROM pg_attribute a
       WHERE a.attrelid = step.name::regclass AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
         AND step.before -> a.attname IS DISTINCT FROM step.after -> a.attname;
      IF sets IS NOT NULL THEN
        EXECUTE format('UPDATE %I SET %s WHERE %s', step.name, sets, keys) USING image, step.before;
      END IF;
    END IF;
  END LOOP;
END $$;
