-- What rests on a row: every row that names it, by a foreign key or by a column called after it ("lamp_id", "slot_ids"), and
-- every row that names one of its parts, which would go with it. Read from the catalogue, so that no new table is forgotten.
CREATE FUNCTION what_rests_on(thing text, thing_id uuid, parts text[]) RETURNS TABLE (noun text, id uuid, rows bigint)
LANGUAGE plpgsql STABLE AS $$
DECLARE
  owner record;
  ref record;
BEGIN
  FOR owner IN SELECT thing AS name, format('SELECT %L::uuid', thing_id) AS ids
    UNION ALL SELECT part, format('SELECT p.id FROM %I p WHERE p.%I = %L', part, thing || '_id', thing_id) FROM unnest(parts) AS part
      WHERE EXISTS (SELECT FROM pg_attribute WHERE attrelid = part::regclass AND attname = 'id') LOOP
    FOR ref IN
      SELECT DISTINCT c.relname AS child, a.attname AS key, a.atttypid = 'uuid[]'::regtype AS many
        FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
       WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace
         AND c.relname <> ALL (parts || ARRAY['fact_mark', 'request_key', 'session', 'undoable_change', 'kept_form'])
         AND (a.attname = owner.name || '_id' AND a.atttypid = 'uuid'::regtype
           OR a.attname = owner.name || '_ids' AND a.atttypid = 'uuid[]'::regtype
           OR EXISTS (SELECT FROM pg_constraint k WHERE k.contype = 'f' AND k.conrelid = c.oid AND k.conkey = ARRAY[a.attnum]
                        AND k.confrelid = owner.name::regclass)) LOOP
      RETURN QUERY EXECUTE format(
        'SELECT %L::text, (to_jsonb(t) ->> ''id'')::uuid, count(*) OVER () FROM %I AS t WHERE %s LIMIT 5', ref.child, ref.child,
        CASE WHEN ref.many THEN format('t.%I && ARRAY(%s)', ref.key, owner.ids) ELSE format('t.%I IN (%s)', ref.key, owner.ids) END);
    END LOOP;
  END LOOP;
END $$;

-- Removes a row with its parts. Keys refuse what rests on them.
CREATE FUNCTION remove_thing(thing text, thing_id uuid, parts text[]) RETURNS void LANGUAGE plpgsql AS $$
DECLARE part text;
BEGIN
  FOREACH part IN ARRAY parts LOOP
    EXECUTE format('DELETE FROM %I WHERE %I = $1', part, thing || '_id') USING thing_id;
  END LOOP;
  EXECUTE format('DELETE FROM %I WHERE id = $1', thing) USING thing_id;
END $$;
