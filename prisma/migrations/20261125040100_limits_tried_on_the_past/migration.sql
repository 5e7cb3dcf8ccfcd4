-- CreateTable
CREATE TABLE "limit_trial" (
    "id" UUID NOT NULL,
    "rule" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "value" DOUBLE PRECISION,
    "system_id" UUID,
    "kind_id" UUID,
    "reason" TEXT NOT NULL,
    "days" INTEGER NOT NULL,
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "finished_at" TIMESTAMPTZ(3),
    "result" JSONB,
    "failure" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "limit_trial_pkey" PRIMARY KEY ("id")
);

-- ------------------------------------------------------------ what the schema cannot say

ALTER TABLE limit_trial ADD CONSTRAINT limit_trial_days CHECK (days BETWEEN 1 AND 366),
  ADD CONSTRAINT limit_trial_scope CHECK (num_nonnulls(system_id, kind_id) <= 1),
  ADD CONSTRAINT limit_trial_finished CHECK (finished_at IS NOT NULL OR (result IS NULL AND failure = ''));
