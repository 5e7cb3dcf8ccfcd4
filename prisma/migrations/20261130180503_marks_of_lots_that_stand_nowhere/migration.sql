-- What is written of a lot that never stood anywhere is of no system: it leaves a mark of its own.
CREATE OR REPLACE FUNCTION mark_lots(lots uuid[], with_offspring boolean) RETURNS void LANGUAGE plpgsql AS $$
DECLARE
  systems uuid[];
BEGIN
  IF with_offspring AND EXISTS (SELECT 1 FROM lot WHERE parent_id = ANY(lots)) THEN
    PERFORM mark_facts('lot', ARRAY[NULL::uuid]);
  ELSE
    SELECT array_agg(DISTINCT tank.system_id) INTO systems FROM placement
      JOIN placement_slot ON placement_id = placement.id JOIN slot ON slot.id = slot_id
      JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
     WHERE placement.lot_id = ANY(lots);
    IF systems IS NULL THEN
      PERFORM mark_facts('unplaced', ARRAY[NULL::uuid]);
    ELSE
      PERFORM mark_facts('lot', systems);
    END IF;
  END IF;
END $$;
