-- AlterTable
ALTER TABLE "placement" ADD COLUMN     "stays" BOOLEAN NOT NULL DEFAULT false;

-- Since when a lot is where it is: a placement that only left some of the slots before it is no move.
CREATE FUNCTION placed_since(placement) RETURNS timestamptz LANGUAGE sql STABLE AS $$
  SELECT CASE WHEN $1.stays
    THEN coalesce((SELECT max(moved.from_at) FROM placement AS moved WHERE moved.lot_id = $1.lot_id AND NOT moved.stays AND moved.from_at <= $1.from_at), $1.from_at)
    ELSE $1.from_at END
$$;

CREATE OR REPLACE VIEW lot_place AS
SELECT placement.lot_id, placement.id AS placement_id, placed_since(placement)::timestamptz(3) AS from_at,
       slot.id AS slot_id, slot.row, slot."column", chr(64 + slot.row) || slot."column" AS slot_name, slot.flow, slot.jet, slot.base,
       rack.id AS rack_id, rack.name AS rack_name, tank.id AS tank_id, tank.name AS tank_name,
       system.id AS system_id, system.name AS system_name
  FROM placement
  JOIN placement_slot ON placement_slot.placement_id = placement.id
  JOIN slot ON slot.id = placement_slot.slot_id
  JOIN rack ON rack.id = slot.rack_id
  JOIN tank ON tank.id = rack.tank_id
  JOIN system ON system.id = tank.system_id
 WHERE placement.to_at IS NULL;
