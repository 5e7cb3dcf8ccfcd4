-- What is written of a lot tells of every system it stood in, not only of where it stands: a loss or a look noted for a day on
-- which it stood elsewhere counts there, and a lot that is gone stands nowhere.
CREATE OR REPLACE FUNCTION mark_lots(lots uuid[], with_offspring boolean) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
  IF with_offspring AND EXISTS (SELECT 1 FROM lot WHERE parent_id = ANY(lots)) THEN
    PERFORM mark_facts('lot', ARRAY[NULL::uuid]);
  ELSE
    PERFORM mark_facts('lot', (SELECT array_agg(DISTINCT tank.system_id) FROM placement
      JOIN placement_slot ON placement_id = placement.id JOIN slot ON slot.id = slot_id
      JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
     WHERE placement.lot_id = ANY(lots)));
  END IF;
END $$;
