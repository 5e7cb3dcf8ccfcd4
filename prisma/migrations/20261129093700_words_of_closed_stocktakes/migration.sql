-- A trigger's message begins with the name of its constraint, by which the application finds the words for it.
CREATE OR REPLACE FUNCTION stocktake_stays_closed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF OLD.closed_at IS NOT NULL THEN
    RAISE EXCEPTION 'stocktake_stays_closed: a closed stocktake stays as it is' USING ERRCODE = 'check_violation', CONSTRAINT = 'stocktake_stays_closed';
  END IF;
  RETURN NEW;
END $$;

CREATE OR REPLACE FUNCTION stocktake_parts_stay_closed() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE of_stocktake uuid;
BEGIN
  IF TG_TABLE_NAME = 'stocktake_count' THEN
    SELECT stocktake_id INTO of_stocktake FROM stocktake_line WHERE id = NEW.line_id;
  ELSE
    of_stocktake := NEW.stocktake_id;
  END IF;
  IF EXISTS (SELECT FROM stocktake WHERE id = of_stocktake AND closed_at IS NOT NULL) THEN
    RAISE EXCEPTION 'stocktake_stays_closed: a closed stocktake stays as it is' USING ERRCODE = 'check_violation', CONSTRAINT = 'stocktake_stays_closed';
  END IF;
  RETURN NEW;
END $$;
