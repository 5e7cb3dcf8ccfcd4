-- Pumps that were off after a feeding are a case of what is switched off.
INSERT INTO switched_off (id, system_id, tank_id, feeding_id, thing, what, why, off_at, due_at, late_at, on_return, account_id, keeper_id,
                          created_at, seen_running_at, voided_at, void_reason)
SELECT gen_random_uuid(), system_id, tank_id, id, 'all_flow', 'Pumps', 'Feeding: ' || food, at, at + make_interval(mins => pumps_off_min),
       at + make_interval(mins => pumps_off_min + 5), 'Water moves in every tank.', account_id, account_id, created_at,
       CASE WHEN pumps_on_at IS NOT NULL THEN greatest(pumps_on_at, at) END, voided_at, CASE WHEN voided_at IS NOT NULL THEN coalesce(void_reason, 'voided') END
  FROM feeding WHERE pumps_off_min > 0;
UPDATE rule_setting SET rule = 'still-off', settings = settings - 'graceMinutes' WHERE rule = 'pumps-still-off';
UPDATE alert SET cleared_at = evaluated_at, cleared_reason = 'told as switched off for now' WHERE rule = 'pumps-still-off' AND cleared_at IS NULL;
DROP INDEX IF EXISTS feeding_pumps_off;
ALTER TABLE "feeding" DROP COLUMN "pumps_on_at";

-- AlterTable
ALTER TABLE "fault" ADD COLUMN     "left_out" TEXT;

-- CreateIndex
CREATE UNIQUE INDEX "fault_system_id_left_out_key" ON "fault"("system_id", "left_out");

-- Every page asks for what is off; that is seldom more than a few among all that ever was.
CREATE INDEX switched_off_now ON switched_off (due_at) WHERE seen_running_at IS NULL AND voided_at IS NULL;
