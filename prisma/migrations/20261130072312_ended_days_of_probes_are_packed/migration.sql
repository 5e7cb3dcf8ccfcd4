-- AlterTable
ALTER TABLE "reading_rollup" ADD COLUMN     "packed" INTEGER;

-- CreateTable
CREATE TABLE "reading_pack" (
    "nth" BIGSERIAL NOT NULL,
    "system_id" UUID NOT NULL,
    "quantity_code" TEXT NOT NULL,
    "method_id" UUID NOT NULL,
    "kit_id" UUID,
    "access_key_id" UUID,
    "from_at" TIMESTAMPTZ(3) NOT NULL,
    "until_at" TIMESTAMPTZ(3) NOT NULL,
    "entered_unit" TEXT NOT NULL,
    "factor" DOUBLE PRECISION NOT NULL,
    "trust_reason" TEXT NOT NULL,
    "readings" INTEGER NOT NULL,
    "mean" DOUBLE PRECISION NOT NULL,
    "least_id" UUID NOT NULL,
    "greatest_id" UUID NOT NULL,
    "ids" UUID[],
    "times" INTEGER[],
    "values" DOUBLE PRECISION[],
    "uncertainties" DOUBLE PRECISION[],
    "lags" BIGINT[],
    "texts" TEXT[],

    CONSTRAINT "reading_pack_pkey" PRIMARY KEY ("nth")
);

-- CreateIndex
CREATE INDEX "reading_pack_system_id_quantity_code_until_at_idx" ON "reading_pack"("system_id", "quantity_code", "until_at");

-- CreateIndex
CREATE INDEX "reading_pack_greatest_id_least_id_idx" ON "reading_pack"("greatest_id", "least_id");

-- CreateIndex
CREATE INDEX "reading_pack_kit_id_idx" ON "reading_pack"("kit_id");

-- AddForeignKey
ALTER TABLE "reading_pack" ADD CONSTRAINT "reading_pack_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_pack" ADD CONSTRAINT "reading_pack_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_pack" ADD CONSTRAINT "reading_pack_method_id_fkey" FOREIGN KEY ("method_id") REFERENCES "method"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_pack" ADD CONSTRAINT "reading_pack_kit_id_fkey" FOREIGN KEY ("kit_id") REFERENCES "kit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading_pack" ADD CONSTRAINT "reading_pack_access_key_id_fkey" FOREIGN KEY ("access_key_id") REFERENCES "access_key"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- ------------------------------------------------------------ what the schema cannot say

ALTER TABLE reading_pack
  ADD CONSTRAINT reading_pack_lists CHECK (readings > 0 AND cardinality(ids) = readings AND cardinality(times) = readings AND cardinality("values") = readings
    AND cardinality(uncertainties) = readings AND cardinality(lags) = readings AND cardinality(texts) IN (0, readings)
    AND num_nulls(ids, times, "values", uncertainties, lags, texts) = 0),
  -- A day is at most 25 hours long: whoever looks for what lies in a time looks no further.
  ADD CONSTRAINT reading_pack_day CHECK (from_at < until_at AND until_at <= from_at + interval '26 hours');
ALTER TABLE reading_rollup ADD CONSTRAINT reading_rollup_packed CHECK (packed BETWEEN 0 AND readings);

-- Days of which nobody has asked yet whether they can be packed.
CREATE INDEX reading_rollup_not_packed ON reading_rollup (system_id, quantity_code, at) WHERE grain = 'day' AND packed IS NULL;

-- The readings that are packed of a quantity in a system, between two moments.
CREATE FUNCTION unpacked_readings(of_system uuid, of_code text, since timestamptz, until timestamptz) RETURNS SETOF reading LANGUAGE sql STABLE AS $$
  SELECT one.id, pack.system_id, NULL::uuid, pack.quantity_code, pack.method_id, pack.kit_id, (pack.from_at + one.ms * interval '1 millisecond')::timestamptz(3),
         one.value, false, one.uncertainty, coalesce(one.text, one.value::text), pack.entered_unit, 'plain'::"Trust", pack.trust_reason, NULL::uuid, ''::text,
         NULL::uuid, (pack.from_at + one.ms * interval '1 millisecond' + one.lag * interval '1 millisecond')::timestamptz(3), NULL::uuid, NULL::timestamptz(3), NULL::text,
         ''::text, NULL::uuid, pack.access_key_id, pack.factor, false, ''::text
    FROM reading_pack AS pack
   CROSS JOIN LATERAL unnest(pack.ids, pack.times, pack.values, pack.uncertainties, pack.lags, pack.texts) AS one(id, ms, value, uncertainty, lag, text)
   WHERE pack.system_id = $1 AND pack.quantity_code = $2 AND pack.until_at > $3 AND pack.until_at <= $4 + interval '26 hours' AND pack.from_at <= $4
     AND (pack.from_at + one.ms * interval '1 millisecond') BETWEEN $3 AND $4
$$;

-- The same without what probes showed that have no vote, as in `reading_with_vote`.
CREATE FUNCTION unpacked_with_vote(of_system uuid, of_code text, since timestamptz, until timestamptz) RETURNS SETOF reading LANGUAGE sql STABLE AS $$
  SELECT reading.* FROM unpacked_readings($1, $2, $3, $4) AS reading
   WHERE NOT EXISTS (SELECT 1 FROM probe_doubt AS doubt
                      WHERE doubt.system_id = reading.system_id AND doubt.quantity_code = reading.quantity_code
                        AND doubt.method_id = reading.method_id AND doubt.kit_id IS NOT DISTINCT FROM reading.kit_id
                        AND reading.at >= doubt.since)
$$;

-- Packs that may hold a reading with this id, and the one that does.
CREATE FUNCTION pack_of_reading(of_id uuid) RETURNS bigint LANGUAGE sql STABLE AS $$
  SELECT nth FROM reading_pack WHERE greatest_id >= $1 AND least_id <= $1 AND $1 = ANY(ids) LIMIT 1
$$;
CREATE FUNCTION unpacked_reading(of_id uuid) RETURNS SETOF reading LANGUAGE sql STABLE AS $$
  SELECT reading.* FROM reading_pack AS pack
   CROSS JOIN LATERAL unpacked_readings(pack.system_id, pack.quantity_code, pack.from_at, pack.until_at) AS reading
   WHERE pack.nth = (SELECT pack_of_reading($1)) AND reading.id = $1
$$;

-- Until when packs have to be looked into for the next readings after a moment: those that end earlier hold enough of them.
CREATE FUNCTION packs_until(of_system uuid, of_code text, after timestamptz, enough bigint) RETURNS timestamptz LANGUAGE sql STABLE AS $$
  SELECT coalesce((
    SELECT until_at FROM (
      SELECT until_at, sum(readings) OVER (ORDER BY until_at, nth) AS so_far FROM reading_pack
       WHERE system_id = $1 AND quantity_code = $2 AND until_at > $3 AND from_at > $3) AS pack
     WHERE so_far >= $4 ORDER BY until_at LIMIT 1), 'infinity')
$$;

-- Makes rows of packs again, as they were. What is undone of the change that wants it is not that they are rows.
CREATE FUNCTION bring_back(packs bigint[]) RETURNS integer LANGUAGE plpgsql AS $$
DECLARE
  of_change text := coalesce(current_setting('evenwater.change', true), '');
  back integer;
BEGIN
  PERFORM FROM reading_pack WHERE nth = ANY(packs) ORDER BY nth FOR UPDATE;
  PERFORM set_config('evenwater.change', '', true), set_config('evenwater.bringing_back', 'on', true);
  UPDATE reading_rollup AS rollup SET packed = NULL FROM reading_pack AS pack
   WHERE pack.nth = ANY(packs) AND rollup.system_id = pack.system_id AND rollup.quantity_code = pack.quantity_code AND rollup.grain = 'day'
     AND rollup.at >= pack.from_at AND rollup.at < pack.until_at AND rollup.method_id = pack.method_id AND rollup.instrument = coalesce(pack.kit_id, pack.method_id);
  WITH taken AS (DELETE FROM reading_pack WHERE nth = ANY(packs) RETURNING *)
  INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, access_key_id, at, created_at, value, uncertainty, entered_text, entered_unit, factor, trust_reason)
  SELECT one.id, system_id, quantity_code, method_id, kit_id, access_key_id, from_at + ms * interval '1 millisecond',
         from_at + ms * interval '1 millisecond' + lag * interval '1 millisecond', value, uncertainty, coalesce(text, value::text), entered_unit, factor, trust_reason
    FROM taken CROSS JOIN LATERAL unnest(ids, times, taken.values, uncertainties, lags, texts) AS one(id, ms, value, uncertainty, lag, text);
  GET DIAGNOSTICS back = ROW_COUNT;
  PERFORM set_config('evenwater.change', of_change, true), set_config('evenwater.bringing_back', '', true);
  RETURN back;
END $$;

-- A pack is never changed; it goes when its readings become rows again, or are let go.
CREATE FUNCTION keep_pack() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' AND 'on' IN (current_setting('evenwater.bringing_back', true), current_setting('evenwater.letting_go', true)) THEN
    RETURN OLD;
  END IF;
  RAISE EXCEPTION 'reading_pack_kept: a pack of readings is not changed; its readings are made rows again' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'reading_pack_kept';
END $$;
CREATE TRIGGER reading_pack_kept BEFORE UPDATE OR DELETE ON reading_pack FOR EACH ROW EXECUTE FUNCTION keep_pack();

-- Who writes to a day that is packed has all of it be rows first of all, so that a day is never half of each: rules take the
-- middle of its rows. Who packs holds a system alone meanwhile; who writes what is older than two days, or changes a reading,
-- waits for that, and then sees the packs.
CREATE FUNCTION bring_back_touched() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
  found bigint[];
BEGIN
  PERFORM pg_advisory_xact_lock_shared(hashtextextended('readings of ' || late.system_id, 0))
     FROM (SELECT DISTINCT system_id FROM touched WHERE TG_OP = 'UPDATE' OR at < created_at - interval '2 days' ORDER BY system_id) AS late;
  SELECT array_agg(pack.nth) INTO found
    FROM (SELECT system_id, quantity_code, method_id, kit_id, min(at) AS first, max(at) AS last FROM touched GROUP BY 1, 2, 3, 4) AS span
   CROSS JOIN LATERAL (
     SELECT * FROM reading_pack AS one WHERE one.system_id = span.system_id AND one.quantity_code = span.quantity_code
        AND one.until_at > span.first AND one.from_at <= span.last AND one.until_at <= span.last + interval '26 hours'
        AND one.method_id = span.method_id AND one.kit_id IS NOT DISTINCT FROM span.kit_id OFFSET 0) AS pack
   WHERE EXISTS (SELECT FROM touched WHERE touched.system_id = pack.system_id AND touched.quantity_code = pack.quantity_code AND touched.method_id = pack.method_id
                    AND touched.kit_id IS NOT DISTINCT FROM pack.kit_id AND touched.at >= pack.from_at AND touched.at < pack.until_at);
  IF found IS NOT NULL THEN
    PERFORM bring_back(found);
  END IF;
  RETURN NULL;
END $$;
CREATE TRIGGER reading_whole_days AFTER INSERT ON reading REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION bring_back_touched();
CREATE TRIGGER reading_whole_days_still AFTER UPDATE ON reading REFERENCING NEW TABLE AS touched FOR EACH STATEMENT EXECUTE FUNCTION bring_back_touched();
