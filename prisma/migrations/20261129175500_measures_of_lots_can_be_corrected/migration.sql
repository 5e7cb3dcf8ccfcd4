-- AlterTable
ALTER TABLE "rack_photograph_lot" ADD COLUMN     "refuse_reason" TEXT,
ADD COLUMN     "refused_at" TIMESTAMPTZ(3),
ADD COLUMN     "refused_by_id" UUID;

-- AddForeignKey
ALTER TABLE "rack_photograph_lot" ADD CONSTRAINT "rack_photograph_lot_refused_by_id_fkey" FOREIGN KEY ("refused_by_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What the schema cannot say.
ALTER TABLE rack_photograph_lot
  ADD CONSTRAINT rack_photograph_lot_refusal CHECK (num_nulls(refused_at, refuse_reason) IN (0, 2)),
  ADD CONSTRAINT rack_photograph_lot_refused CHECK (refused_at IS NULL OR left_out IS NULL),
  ADD CONSTRAINT rack_photograph_lot_refuser CHECK (refused_by_id IS NULL OR refused_at IS NOT NULL);

-- Two lots whose outlines were taken for each other change places, and back again row by row: looked at when all is done.
DROP INDEX rack_photograph_lot_photograph_id_lot_id_key;
ALTER TABLE rack_photograph_lot ADD CONSTRAINT rack_photograph_lot_photograph_id_lot_id_key
  UNIQUE (photograph_id, lot_id) DEFERRABLE INITIALLY DEFERRED;

CREATE TRIGGER undo_rack_photograph_lot AFTER UPDATE OR DELETE ON rack_photograph_lot FOR EACH ROW
  WHEN (coalesce(current_setting('evenwater.change', true), '') <> '') EXECUTE FUNCTION keep_row_for_undo();

-- Photographs of racks leave a mark of the system that the rack is in.
CREATE FUNCTION mark_photographs() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts('photograph', (SELECT array_agg(DISTINCT tank.system_id)
    FROM touched JOIN rack ON rack.id = touched.rack_id JOIN tank ON tank.id = rack.tank_id));
  RETURN NULL;
END $$;

CREATE FUNCTION mark_photographed_lots() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_facts('photograph', (SELECT array_agg(DISTINCT tank.system_id)
    FROM touched JOIN rack_photograph AS taken ON taken.id = touched.photograph_id
    JOIN rack ON rack.id = taken.rack_id JOIN tank ON tank.id = rack.tank_id));
  RETURN NULL;
END $$;

CREATE TRIGGER rack_photograph_void_facts AFTER UPDATE ON rack_photograph REFERENCING NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_photographs();
CREATE TRIGGER rack_photograph_lot_facts AFTER INSERT ON rack_photograph_lot REFERENCING NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_photographed_lots();
CREATE TRIGGER rack_photograph_lot_corrected_facts AFTER UPDATE ON rack_photograph_lot REFERENCING NEW TABLE AS touched
  FOR EACH STATEMENT EXECUTE FUNCTION mark_photographed_lots();

-- A cut begins the line of what was cut from anew, too.
CREATE OR REPLACE FUNCTION mark_cuts() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM mark_lots((SELECT array_agg(into_lot_id) FROM touched), true);
  PERFORM mark_lots((SELECT array_agg(from_lot_id) FROM touched), false);
  RETURN NULL;
END $$;
