-- CreateSchema
CREATE SCHEMA IF NOT EXISTS "public";

-- CreateEnum
CREATE TYPE "Role" AS ENUM ('hand', 'manager', 'owner');

-- CreateEnum
CREATE TYPE "Flow" AS ENUM ('still', 'low', 'medium', 'high');

-- CreateEnum
CREATE TYPE "Base" AS ENUM ('egg_crate', 'rock', 'sand');

-- CreateEnum
CREATE TYPE "KindRank" AS ENUM ('group', 'taxon');

-- CreateEnum
CREATE TYPE "FigureBasis" AS ENUM ('published', 'computed', 'common_practice', 'from_memory', 'own_choice');

-- CreateEnum
CREATE TYPE "LedgerReason" AS ENUM ('received', 'cut_in', 'cut_out', 'lost', 'sold', 'merged', 'split', 'recount');

-- CreateEnum
CREATE TYPE "ConditionState" AS ENUM ('well', 'paling', 'bleached', 'receding', 'polyps_shut', 'silt', 'algae', 'pest', 'loose', 'jet', 'lost', 'other');

-- CreateEnum
CREATE TYPE "Trust" AS ENUM ('plain', 'unconfirmed', 'confirmed', 'refuted');

-- CreateEnum
CREATE TYPE "Severity" AS ENUM ('now', 'today', 'watch');

-- CreateTable
CREATE TABLE "account" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "email" TEXT NOT NULL,
    "password_hash" TEXT NOT NULL,
    "role" "Role" NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "disabled_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "account_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "session" (
    "id" TEXT NOT NULL,
    "data" JSONB NOT NULL,
    "account_id" UUID,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "session_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "journal_line" (
    "id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "account_id" UUID,
    "kind" TEXT NOT NULL,
    "subject_type" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,
    "detail" JSONB NOT NULL,

    CONSTRAINT "journal_line_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "request_key" (
    "key" UUID NOT NULL,
    "account_id" UUID,
    "fingerprint" TEXT NOT NULL,
    "result" JSONB,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "request_key_pkey" PRIMARY KEY ("key")
);

-- CreateTable
CREATE TABLE "secret" (
    "name" TEXT NOT NULL,
    "value" TEXT NOT NULL,

    CONSTRAINT "secret_pkey" PRIMARY KEY ("name")
);

-- CreateTable
CREATE TABLE "site" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "time_zone" TEXT NOT NULL,
    "digest_at" TEXT NOT NULL DEFAULT '06:30',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "site_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "system" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "volume_l" DOUBLE PRECISION NOT NULL,
    "position" INTEGER NOT NULL DEFAULT 0,
    "note" TEXT NOT NULL DEFAULT '',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "retired_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "system_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "system_quantity" (
    "system_id" UUID NOT NULL,
    "quantity_code" TEXT NOT NULL,
    "band_low" DOUBLE PRECISION,
    "band_high" DOUBLE PRECISION,
    "limit_high" DOUBLE PRECISION,
    "make_up" DOUBLE PRECISION,
    "source" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "system_quantity_pkey" PRIMARY KEY ("system_id","quantity_code")
);

-- CreateTable
CREATE TABLE "tank" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "position" INTEGER NOT NULL DEFAULT 0,
    "length_mm" INTEGER NOT NULL,
    "width_mm" INTEGER NOT NULL,
    "height_mm" INTEGER NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "tank_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "lamp" (
    "id" UUID NOT NULL,
    "tank_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "lit_hours" DOUBLE PRECISION NOT NULL,
    "ramp_hours" DOUBLE PRECISION NOT NULL,

    CONSTRAINT "lamp_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "lamp_setting" (
    "id" UUID NOT NULL,
    "lamp_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "percent" DOUBLE PRECISION NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,

    CONSTRAINT "lamp_setting_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "rack" (
    "id" UUID NOT NULL,
    "tank_id" UUID NOT NULL,
    "lamp_id" UUID,
    "name" TEXT NOT NULL,
    "position" INTEGER NOT NULL DEFAULT 0,
    "rows" INTEGER NOT NULL,
    "columns" INTEGER NOT NULL,
    "depth_mm" INTEGER NOT NULL,
    "base" "Base" NOT NULL DEFAULT 'egg_crate',
    "note" TEXT NOT NULL DEFAULT '',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "rack_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "slot" (
    "id" UUID NOT NULL,
    "rack_id" UUID NOT NULL,
    "row" INTEGER NOT NULL,
    "column" INTEGER NOT NULL,
    "flow" "Flow" NOT NULL DEFAULT 'low',
    "jet" BOOLEAN NOT NULL DEFAULT false,
    "base" "Base" NOT NULL DEFAULT 'egg_crate',

    CONSTRAINT "slot_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "light_survey" (
    "id" UUID NOT NULL,
    "rack_id" UUID NOT NULL,
    "measured_at" TIMESTAMPTZ(3) NOT NULL,
    "meter" TEXT NOT NULL,
    "immersion_factor" DOUBLE PRECISION NOT NULL,
    "factor_in_meter" BOOLEAN NOT NULL DEFAULT false,
    "lamp_percent" DOUBLE PRECISION,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "light_survey_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "light_survey_point" (
    "survey_id" UUID NOT NULL,
    "slot_id" UUID NOT NULL,
    "raw" DOUBLE PRECISION NOT NULL,
    "par" DOUBLE PRECISION NOT NULL,

    CONSTRAINT "light_survey_point_pkey" PRIMARY KEY ("survey_id","slot_id")
);

-- CreateTable
CREATE TABLE "slot_light" (
    "survey_id" UUID NOT NULL,
    "slot_id" UUID NOT NULL,
    "par" DOUBLE PRECISION NOT NULL,
    "error" DOUBLE PRECISION NOT NULL,
    "measured" BOOLEAN NOT NULL,

    CONSTRAINT "slot_light_pkey" PRIMARY KEY ("survey_id","slot_id")
);

-- CreateTable
CREATE TABLE "kind" (
    "id" UUID NOT NULL,
    "code" TEXT NOT NULL,
    "rank" "KindRank" NOT NULL,
    "parent_id" UUID,
    "name" TEXT NOT NULL,
    "also_called" TEXT[],
    "note" TEXT NOT NULL DEFAULT '',
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "kind_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "care_figure" (
    "id" UUID NOT NULL,
    "kind_id" UUID,
    "lot_id" UUID,
    "figure" TEXT NOT NULL,
    "low" DOUBLE PRECISION,
    "high" DOUBLE PRECISION,
    "words" TEXT,
    "basis" "FigureBasis" NOT NULL,
    "source" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "care_figure_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "lot" (
    "id" UUID NOT NULL,
    "code" TEXT NOT NULL,
    "site_id" UUID NOT NULL,
    "kind_id" UUID NOT NULL,
    "parent_id" UUID,
    "is_mother" BOOLEAN NOT NULL DEFAULT false,
    "origin" TEXT NOT NULL DEFAULT '',
    "permit" TEXT NOT NULL DEFAULT '',
    "size_mm" INTEGER,
    "arrived_at" TIMESTAMPTZ(3) NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "pieces" INTEGER NOT NULL DEFAULT 0,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "lot_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "identification" (
    "id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "scientific_name" TEXT NOT NULL,
    "identification_qualifier" TEXT NOT NULL DEFAULT '',
    "identified_by" TEXT NOT NULL,
    "date_identified" DATE NOT NULL,
    "identification_remarks" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "identification_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "ledger_entry" (
    "id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "change" INTEGER NOT NULL,
    "reason" "LedgerReason" NOT NULL,
    "cut_id" UUID,
    "tag_id" UUID,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "ledger_entry_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "cut" (
    "id" UUID NOT NULL,
    "from_lot_id" UUID NOT NULL,
    "into_lot_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "pieces" INTEGER NOT NULL,
    "method" TEXT NOT NULL DEFAULT '',
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "cut_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "placement" (
    "id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "from_at" TIMESTAMPTZ(3) NOT NULL,
    "to_at" TIMESTAMPTZ(3),
    "reason" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "placement_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "placement_slot" (
    "placement_id" UUID NOT NULL,
    "slot_id" UUID NOT NULL,
    "from_at" TIMESTAMPTZ(3),
    "to_at" TIMESTAMPTZ(3),

    CONSTRAINT "placement_slot_pkey" PRIMARY KEY ("placement_id","slot_id")
);

-- CreateTable
CREATE TABLE "condition" (
    "id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "state" "ConditionState" NOT NULL,
    "grade" INTEGER,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "condition_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "quantity" (
    "code" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "position" INTEGER NOT NULL,
    "canonical_unit" TEXT NOT NULL,
    "display_unit" TEXT NOT NULL,
    "decimals" INTEGER NOT NULL,
    "plausible_low" DOUBLE PRECISION NOT NULL,
    "plausible_high" DOUBLE PRECISION NOT NULL,
    "possible_low" DOUBLE PRECISION NOT NULL,
    "possible_high" DOUBLE PRECISION NOT NULL,
    "source" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "quantity_pkey" PRIMARY KEY ("code")
);

-- CreateTable
CREATE TABLE "method" (
    "id" UUID NOT NULL,
    "quantity_code" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "absolute" DOUBLE PRECISION NOT NULL DEFAULT 0,
    "relative" DOUBLE PRECISION NOT NULL DEFAULT 0,
    "step" DOUBLE PRECISION,
    "detection_limit" DOUBLE PRECISION,
    "is_default" BOOLEAN NOT NULL DEFAULT false,
    "note" TEXT NOT NULL DEFAULT '',

    CONSTRAINT "method_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "kit" (
    "id" UUID NOT NULL,
    "method_id" UUID NOT NULL,
    "label" TEXT NOT NULL,
    "lot_number" TEXT NOT NULL DEFAULT '',
    "opened_at" TIMESTAMPTZ(3) NOT NULL,
    "expires_on" DATE,
    "retired_at" TIMESTAMPTZ(3),
    "account_id" UUID,

    CONSTRAINT "kit_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "check_reading" (
    "id" UUID NOT NULL,
    "kit_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "standard_value" DOUBLE PRECISION NOT NULL,
    "value" DOUBLE PRECISION NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "check_reading_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "reading" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "slot_id" UUID,
    "quantity_code" TEXT NOT NULL,
    "method_id" UUID,
    "kit_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "value" DOUBLE PRECISION NOT NULL,
    "below_detection" BOOLEAN NOT NULL DEFAULT false,
    "uncertainty" DOUBLE PRECISION NOT NULL,
    "entered_text" TEXT NOT NULL,
    "entered_unit" TEXT NOT NULL,
    "trust" "Trust" NOT NULL DEFAULT 'plain',
    "trust_reason" TEXT NOT NULL DEFAULT '',
    "settled_by_id" UUID,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "supersedes_id" UUID,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "reading_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "water_change" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "volume_l" DOUBLE PRECISION NOT NULL,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "water_change_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "dose" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "substance" TEXT NOT NULL,
    "amount" DOUBLE PRECISION NOT NULL,
    "unit" TEXT NOT NULL,
    "quantity_code" TEXT,
    "effect" DOUBLE PRECISION,
    "note" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "dose_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "feeding" (
    "id" UUID NOT NULL,
    "system_id" UUID NOT NULL,
    "tank_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "food" TEXT NOT NULL,
    "amount_g" DOUBLE PRECISION,
    "pumps_off_min" INTEGER,
    "pumps_on_at" TIMESTAMPTZ(3),
    "response" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "feeding_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "rule_setting" (
    "id" UUID NOT NULL,
    "rule" TEXT NOT NULL,
    "system_id" UUID,
    "kind_id" UUID,
    "settings" JSONB NOT NULL,
    "reason" TEXT NOT NULL DEFAULT '',
    "account_id" UUID,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "rule_setting_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "alert" (
    "id" UUID NOT NULL,
    "rule" TEXT NOT NULL,
    "subject_type" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,
    "facet" TEXT NOT NULL DEFAULT '',
    "system_id" UUID NOT NULL,
    "severity" "Severity" NOT NULL,
    "title" TEXT NOT NULL,
    "finding" JSONB NOT NULL,
    "worst" DOUBLE PRECISION NOT NULL,
    "opened_at" TIMESTAMPTZ(3) NOT NULL,
    "evaluated_at" TIMESTAMPTZ(3) NOT NULL,
    "quiet_since" TIMESTAMPTZ(3),
    "seen_at" TIMESTAMPTZ(3),
    "seen_by_id" UUID,
    "put_off_until" TIMESTAMPTZ(3),
    "put_off_reason" TEXT,
    "put_off_worst" DOUBLE PRECISION,
    "put_off_by_id" UUID,
    "cause_id" UUID,
    "cleared_at" TIMESTAMPTZ(3),
    "cleared_reason" TEXT,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "alert_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "alert_event" (
    "id" UUID NOT NULL,
    "alert_id" UUID NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "kind" TEXT NOT NULL,
    "detail" JSONB NOT NULL,
    "account_id" UUID,

    CONSTRAINT "alert_event_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "round_plan" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "starts_at" TEXT NOT NULL,
    "weekdays" INTEGER[],
    "steps" TEXT[],
    "assignee_id" UUID,
    "paused_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "round_plan_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "round_plan_tank" (
    "plan_id" UUID NOT NULL,
    "tank_id" UUID NOT NULL,
    "position" INTEGER NOT NULL,

    CONSTRAINT "round_plan_tank_pkey" PRIMARY KEY ("plan_id","tank_id")
);

-- CreateTable
CREATE TABLE "round" (
    "id" UUID NOT NULL,
    "plan_id" UUID NOT NULL,
    "day" DATE NOT NULL,
    "started_at" TIMESTAMPTZ(3) NOT NULL,
    "started_by_id" UUID,
    "finished_at" TIMESTAMPTZ(3),

    CONSTRAINT "round_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "round_entry" (
    "id" UUID NOT NULL,
    "round_id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "rack_id" UUID,
    "lot_id" UUID,
    "system_id" UUID,
    "detail" JSONB NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "received_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "account_id" UUID,

    CONSTRAINT "round_entry_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "digest" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "day" DATE NOT NULL,
    "made_at" TIMESTAMPTZ(3) NOT NULL,
    "content" JSONB NOT NULL,

    CONSTRAINT "digest_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "tag" (
    "id" UUID NOT NULL,
    "token" TEXT NOT NULL,
    "lot_id" UUID NOT NULL,
    "pieces" INTEGER NOT NULL,
    "issued_at" TIMESTAMPTZ(3) NOT NULL,
    "account_id" UUID,
    "record" TEXT NOT NULL,
    "signature" TEXT NOT NULL,
    "reason" TEXT NOT NULL DEFAULT '',
    "withdrawn_at" TIMESTAMPTZ(3),
    "withdrawn_reason" TEXT,

    CONSTRAINT "tag_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "account_email_key" ON "account"("email");

-- CreateIndex
CREATE INDEX "session_expires_at_idx" ON "session"("expires_at");

-- CreateIndex
CREATE INDEX "journal_line_subject_id_at_idx" ON "journal_line"("subject_id", "at");

-- CreateIndex
CREATE INDEX "journal_line_at_idx" ON "journal_line"("at");

-- CreateIndex
CREATE UNIQUE INDEX "site_name_key" ON "site"("name");

-- CreateIndex
CREATE UNIQUE INDEX "system_site_id_name_key" ON "system"("site_id", "name");

-- CreateIndex
CREATE UNIQUE INDEX "tank_system_id_name_key" ON "tank"("system_id", "name");

-- CreateIndex
CREATE UNIQUE INDEX "lamp_tank_id_name_key" ON "lamp"("tank_id", "name");

-- CreateIndex
CREATE UNIQUE INDEX "lamp_setting_lamp_id_at_key" ON "lamp_setting"("lamp_id", "at");

-- CreateIndex
CREATE UNIQUE INDEX "rack_tank_id_name_key" ON "rack"("tank_id", "name");

-- CreateIndex
CREATE UNIQUE INDEX "slot_rack_id_row_column_key" ON "slot"("rack_id", "row", "column");

-- CreateIndex
CREATE INDEX "light_survey_rack_id_measured_at_idx" ON "light_survey"("rack_id", "measured_at");

-- CreateIndex
CREATE UNIQUE INDEX "kind_code_key" ON "kind"("code");

-- CreateIndex
CREATE UNIQUE INDEX "care_figure_kind_id_figure_key" ON "care_figure"("kind_id", "figure");

-- CreateIndex
CREATE UNIQUE INDEX "care_figure_lot_id_figure_key" ON "care_figure"("lot_id", "figure");

-- CreateIndex
CREATE UNIQUE INDEX "lot_code_key" ON "lot"("code");

-- CreateIndex
CREATE INDEX "lot_kind_id_idx" ON "lot"("kind_id");

-- CreateIndex
CREATE INDEX "identification_lot_id_created_at_idx" ON "identification"("lot_id", "created_at");

-- CreateIndex
CREATE INDEX "ledger_entry_lot_id_at_idx" ON "ledger_entry"("lot_id", "at");

-- CreateIndex
CREATE UNIQUE INDEX "cut_into_lot_id_key" ON "cut"("into_lot_id");

-- CreateIndex
CREATE INDEX "cut_from_lot_id_idx" ON "cut"("from_lot_id");

-- CreateIndex
CREATE INDEX "placement_lot_id_from_at_idx" ON "placement"("lot_id", "from_at");

-- CreateIndex
CREATE INDEX "placement_slot_slot_id_idx" ON "placement_slot"("slot_id");

-- CreateIndex
CREATE INDEX "condition_lot_id_at_idx" ON "condition"("lot_id", "at");

-- CreateIndex
CREATE UNIQUE INDEX "method_quantity_code_name_key" ON "method"("quantity_code", "name");

-- CreateIndex
CREATE UNIQUE INDEX "kit_method_id_label_key" ON "kit"("method_id", "label");

-- CreateIndex
CREATE INDEX "check_reading_kit_id_at_idx" ON "check_reading"("kit_id", "at");

-- CreateIndex
CREATE UNIQUE INDEX "reading_supersedes_id_key" ON "reading"("supersedes_id");

-- CreateIndex
CREATE INDEX "reading_system_id_quantity_code_at_idx" ON "reading"("system_id", "quantity_code", "at");

-- CreateIndex
CREATE INDEX "water_change_system_id_at_idx" ON "water_change"("system_id", "at");

-- CreateIndex
CREATE INDEX "dose_system_id_at_idx" ON "dose"("system_id", "at");

-- CreateIndex
CREATE INDEX "feeding_system_id_at_idx" ON "feeding"("system_id", "at");

-- CreateIndex
CREATE INDEX "alert_system_id_cleared_at_idx" ON "alert"("system_id", "cleared_at");

-- CreateIndex
CREATE INDEX "alert_event_alert_id_at_idx" ON "alert_event"("alert_id", "at");

-- CreateIndex
CREATE INDEX "alert_event_at_idx" ON "alert_event"("at");

-- CreateIndex
CREATE UNIQUE INDEX "round_plan_site_id_name_key" ON "round_plan"("site_id", "name");

-- CreateIndex
CREATE UNIQUE INDEX "round_plan_id_day_key" ON "round"("plan_id", "day");

-- CreateIndex
CREATE INDEX "round_entry_round_id_at_idx" ON "round_entry"("round_id", "at");

-- CreateIndex
CREATE UNIQUE INDEX "digest_site_id_day_key" ON "digest"("site_id", "day");

-- CreateIndex
CREATE UNIQUE INDEX "tag_token_key" ON "tag"("token");

-- CreateIndex
CREATE INDEX "tag_lot_id_idx" ON "tag"("lot_id");

-- AddForeignKey
ALTER TABLE "system" ADD CONSTRAINT "system_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "system_quantity" ADD CONSTRAINT "system_quantity_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "system_quantity" ADD CONSTRAINT "system_quantity_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tank" ADD CONSTRAINT "tank_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "lamp" ADD CONSTRAINT "lamp_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "lamp_setting" ADD CONSTRAINT "lamp_setting_lamp_id_fkey" FOREIGN KEY ("lamp_id") REFERENCES "lamp"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack" ADD CONSTRAINT "rack_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack" ADD CONSTRAINT "rack_lamp_id_fkey" FOREIGN KEY ("lamp_id") REFERENCES "lamp"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "slot" ADD CONSTRAINT "slot_rack_id_fkey" FOREIGN KEY ("rack_id") REFERENCES "rack"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "light_survey" ADD CONSTRAINT "light_survey_rack_id_fkey" FOREIGN KEY ("rack_id") REFERENCES "rack"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "light_survey_point" ADD CONSTRAINT "light_survey_point_survey_id_fkey" FOREIGN KEY ("survey_id") REFERENCES "light_survey"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "light_survey_point" ADD CONSTRAINT "light_survey_point_slot_id_fkey" FOREIGN KEY ("slot_id") REFERENCES "slot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "slot_light" ADD CONSTRAINT "slot_light_survey_id_fkey" FOREIGN KEY ("survey_id") REFERENCES "light_survey"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "slot_light" ADD CONSTRAINT "slot_light_slot_id_fkey" FOREIGN KEY ("slot_id") REFERENCES "slot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kind" ADD CONSTRAINT "kind_parent_id_fkey" FOREIGN KEY ("parent_id") REFERENCES "kind"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "care_figure" ADD CONSTRAINT "care_figure_kind_id_fkey" FOREIGN KEY ("kind_id") REFERENCES "kind"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "care_figure" ADD CONSTRAINT "care_figure_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "lot" ADD CONSTRAINT "lot_kind_id_fkey" FOREIGN KEY ("kind_id") REFERENCES "kind"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "lot" ADD CONSTRAINT "lot_parent_id_fkey" FOREIGN KEY ("parent_id") REFERENCES "lot"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "identification" ADD CONSTRAINT "identification_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "ledger_entry" ADD CONSTRAINT "ledger_entry_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "ledger_entry" ADD CONSTRAINT "ledger_entry_cut_id_fkey" FOREIGN KEY ("cut_id") REFERENCES "cut"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "cut" ADD CONSTRAINT "cut_from_lot_id_fkey" FOREIGN KEY ("from_lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "cut" ADD CONSTRAINT "cut_into_lot_id_fkey" FOREIGN KEY ("into_lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "placement" ADD CONSTRAINT "placement_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "placement_slot" ADD CONSTRAINT "placement_slot_placement_id_fkey" FOREIGN KEY ("placement_id") REFERENCES "placement"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "placement_slot" ADD CONSTRAINT "placement_slot_slot_id_fkey" FOREIGN KEY ("slot_id") REFERENCES "slot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "condition" ADD CONSTRAINT "condition_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "method" ADD CONSTRAINT "method_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "kit" ADD CONSTRAINT "kit_method_id_fkey" FOREIGN KEY ("method_id") REFERENCES "method"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "check_reading" ADD CONSTRAINT "check_reading_kit_id_fkey" FOREIGN KEY ("kit_id") REFERENCES "kit"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_quantity_code_fkey" FOREIGN KEY ("quantity_code") REFERENCES "quantity"("code") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_method_id_fkey" FOREIGN KEY ("method_id") REFERENCES "method"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_kit_id_fkey" FOREIGN KEY ("kit_id") REFERENCES "kit"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_supersedes_id_fkey" FOREIGN KEY ("supersedes_id") REFERENCES "reading"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "reading" ADD CONSTRAINT "reading_settled_by_id_fkey" FOREIGN KEY ("settled_by_id") REFERENCES "reading"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "water_change" ADD CONSTRAINT "water_change_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "dose" ADD CONSTRAINT "dose_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "feeding" ADD CONSTRAINT "feeding_system_id_fkey" FOREIGN KEY ("system_id") REFERENCES "system"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "feeding" ADD CONSTRAINT "feeding_tank_id_fkey" FOREIGN KEY ("tank_id") REFERENCES "tank"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "alert" ADD CONSTRAINT "alert_cause_id_fkey" FOREIGN KEY ("cause_id") REFERENCES "alert"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "alert_event" ADD CONSTRAINT "alert_event_alert_id_fkey" FOREIGN KEY ("alert_id") REFERENCES "alert"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round_plan" ADD CONSTRAINT "round_plan_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round_plan_tank" ADD CONSTRAINT "round_plan_tank_plan_id_fkey" FOREIGN KEY ("plan_id") REFERENCES "round_plan"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round" ADD CONSTRAINT "round_plan_id_fkey" FOREIGN KEY ("plan_id") REFERENCES "round_plan"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "round_entry" ADD CONSTRAINT "round_entry_round_id_fkey" FOREIGN KEY ("round_id") REFERENCES "round"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "digest" ADD CONSTRAINT "digest_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tag" ADD CONSTRAINT "tag_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
