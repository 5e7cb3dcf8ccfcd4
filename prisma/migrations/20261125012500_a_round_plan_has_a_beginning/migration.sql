-- A walk counts as missed only if it was planned then: a new plan, a changed time or a plan taken up again after a pause
-- must not be judged by days before it was so.
ALTER TABLE "round_plan" ADD COLUMN "planned_since" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP;
ALTER TABLE round_plan ADD CONSTRAINT round_plan_steps CHECK (steps <@ ARRAY['look', 'test', 'feed'] AND cardinality(steps) > 0);
