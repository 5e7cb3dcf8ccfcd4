-- CreateTable
CREATE TABLE "reading_origin" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "quantity_code" TEXT NOT NULL,
    "method_id" UUID,
    "kit_id" UUID,
    "access_key_id" UUID,

    CONSTRAINT "reading_origin_pkey" PRIMARY KEY ("id")
);

-- AddForeignKey
ALTER TABLE "reading_origin" ADD CONSTRAINT "reading_origin_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

-- AddForeignKey
ALTER TABLE "reading_origin" ADD CONSTRAINT "reading_origin_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE RESTRICT ON UPDATE RESTRICT;

-- AddForeignKey
ALTER TABLE "reading_origin" ADD CONSTRAINT "reading_origin_method_id_fkey" FOREIGN KEY ("method_id") REFERENCES "method"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

-- AddForeignKey
ALTER TABLE "reading_origin" ADD CONSTRAINT "reading_origin_kit_id_fkey" FOREIGN KEY ("kit_id") REFERENCES "kit"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

-- AddForeignKey
ALTER TABLE "reading_origin" ADD CONSTRAINT "reading_origin_access_key_id_fkey" FOREIGN KEY ("access_key_id") REFERENCES "access_key"("id") ON DELETE RESTRICT ON UPDATE RESTRICT;

-- ------------------------------------------------------------ what the schema cannot say

CREATE UNIQUE INDEX reading_origin_once ON reading_origin (system_id, quantity_code, method_id, kit_id, access_key_id) NULLS NOT DISTINCT;
CREATE TRIGGER reading_origin_append_only BEFORE UPDATE OR DELETE ON reading_origin FOR EACH ROW EXECUTE FUNCTION refuse_change();

-- A row is there before the statement that wrote its readings ends, and never goes: so what a reading names is there for
-- as long as the reading is.
CREATE FUNCTION hold_readings() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  INSERT INTO reading_origin (id, system_id, quantity_code, method_id, kit_id, access_key_id)
  SELECT gen_random_uuid(), one.* FROM (SELECT DISTINCT system_id, quantity_code, method_id, kit_id, access_key_id FROM touched) AS one
  ON CONFLICT DO NOTHING;
  RETURN NULL;
END $$;
CREATE TRIGGER reading_held AFTER INSERT ON reading REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION hold_readings();
CREATE TRIGGER reading_held_still AFTER UPDATE ON reading REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION hold_readings();

-- Readings that came in with triggers set aside.
CREATE FUNCTION hold_all_readings() RETURNS void LANGUAGE sql AS $$
  INSERT INTO reading_origin (id, system_id, quantity_code, method_id, kit_id, access_key_id)
  SELECT gen_random_uuid(), one.* FROM (SELECT DISTINCT system_id, quantity_code, method_id, kit_id, access_key_id FROM reading) AS one
  ON CONFLICT DO NOTHING
$$;
SELECT hold_all_readings();

-- The keys of readings themselves stay written down, and are looked up no more: five look-ups took two thirds of what it
-- costs to keep a reading. A PostgreSQL before 18 cannot set keys aside so, and goes on looking them up.
DO $$
DECLARE
  part text;
BEGIN
  IF current_setting('server_version_num')::int >= 180000 THEN
    FOREACH part IN ARRAY ARRAY['system_id', 'quantity_code', 'method_id', 'kit_id', 'access_key_id'] LOOP
      EXECUTE format('ALTER TABLE reading ALTER CONSTRAINT reading_%s_fkey NOT ENFORCED', part);
    END LOOP;
  END IF;
END $$;
