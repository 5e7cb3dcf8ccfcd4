-- CreateEnum
CREATE TYPE "LossCause" AS ENUM ('unknown', 'colour_gone', 'flesh_gone', 'pest', 'stung', 'overgrown', 'silt', 'cut_not_healed', 'water', 'heat_or_cold', 'light', 'broken', 'dead_on_arrival', 'astray', 'given_away', 'other');

-- AlterTable
ALTER TABLE "ledger_entry" ADD COLUMN     "cause" "LossCause";

-- CreateTable
CREATE TABLE "affected_scan" (
    "site_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "result" JSONB NOT NULL,

    CONSTRAINT "affected_scan_pkey" PRIMARY KEY ("site_id")
);

-- AddForeignKey
ALTER TABLE "affected_scan" ADD CONSTRAINT "affected_scan_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- Only pieces that were lost have a cause. It is often known later: like time and person it can be corrected.
ALTER TABLE ledger_entry ADD CONSTRAINT ledger_cause_of_loss CHECK (cause IS NULL OR reason = 'lost');
CREATE OR REPLACE FUNCTION keep_ledger_entry() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE lowest integer;
BEGIN
  IF TG_OP = 'DELETE' OR to_jsonb(NEW) - 'at' - 'account_id' - 'cause' IS DISTINCT FROM to_jsonb(OLD) - 'at' - 'account_id' - 'cause' THEN
    RAISE EXCEPTION 'ledger_entry_append_only: ledger_entry is append-only' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'ledger_entry_append_only';
  END IF;
  SELECT min(running) INTO lowest FROM (
    SELECT sum(change) OVER (ORDER BY at, id) AS running FROM (
      SELECT id, change, CASE WHEN id = NEW.id THEN NEW.at ELSE at END AS at FROM ledger_entry WHERE lot_id = NEW.lot_id) AS line) AS counted;
  IF lowest < 0 THEN
    RAISE EXCEPTION 'ledger_not_below_zero: the count of this lot would fall below zero' USING ERRCODE = 'check_violation', CONSTRAINT = 'ledger_not_below_zero';
  END IF;
  RETURN NEW;
END $$;

-- A lot that died stands nowhere any more, so its cause is news for every system.
CREATE TRIGGER ledger_entry_cause_facts AFTER UPDATE OF cause ON ledger_entry FOR EACH STATEMENT EXECUTE FUNCTION mark_all('lot');
CREATE TRIGGER affected_scan_facts AFTER INSERT OR UPDATE OR DELETE OR TRUNCATE ON affected_scan FOR EACH STATEMENT EXECUTE FUNCTION mark_all('scan');

CREATE INDEX ledger_entry_lost_at ON ledger_entry (at) WHERE reason = 'lost';
