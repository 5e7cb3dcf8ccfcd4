-- Packed readings of a quantity in a system from a moment on: at least the next `enough` of them, in no order, out of no more
-- packs than that takes. A function of its own, so that where they end is worked out once and packs are found by it.
CREATE FUNCTION next_unpacked(of_system uuid, of_code text, since timestamptz, until timestamptz, enough bigint) RETURNS SETOF reading LANGUAGE plpgsql STABLE AS $$
DECLARE
  bound timestamptz := least(until, packs_until(of_system, of_code, since, enough));
BEGIN
  RETURN QUERY SELECT * FROM unpacked_readings(of_system, of_code, since, bound);
END $$;
