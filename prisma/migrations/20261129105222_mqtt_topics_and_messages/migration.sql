-- CreateEnum
CREATE TYPE "MqttPayload" AS ENUM ('senml', 'number', 'status');

-- CreateTable
CREATE TABLE "mqtt_topic" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "filter" TEXT NOT NULL,
    "payload" "MqttPayload" NOT NULL,
    "unit" TEXT NOT NULL DEFAULT '',
    "silent_word" TEXT NOT NULL DEFAULT '',
    "refusal" TEXT NOT NULL DEFAULT '',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "mqtt_topic_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "mqtt_message" (
    "id" BIGSERIAL NOT NULL,
    "topic" TEXT NOT NULL,
    "payload" BYTEA NOT NULL,
    "retained" BOOLEAN NOT NULL,
    "waited" BOOLEAN NOT NULL,
    "packet_id" INTEGER NOT NULL,
    "digest" BYTEA NOT NULL,
    "arrived_at" TIMESTAMPTZ(3) NOT NULL,
    "read_at" TIMESTAMPTZ(3),

    CONSTRAINT "mqtt_message_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "mqtt_unread" (
    "site_id" UUID NOT NULL,
    "topic" TEXT NOT NULL,
    "reason" TEXT NOT NULL,
    "payload" TEXT NOT NULL,
    "times" INTEGER NOT NULL,
    "last_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "mqtt_unread_pkey" PRIMARY KEY ("site_id","topic","reason")
);

-- CreateTable
CREATE TABLE "mqtt_heard" (
    "site_id" UUID NOT NULL,
    "topic" TEXT NOT NULL,
    "last_at" TIMESTAMPTZ(3) NOT NULL,
    "messages" BIGINT NOT NULL,
    "silent_since" TIMESTAMPTZ(3),

    CONSTRAINT "mqtt_heard_pkey" PRIMARY KEY ("site_id","topic")
);

-- CreateTable
CREATE TABLE "mqtt_connection" (
    "id" INTEGER NOT NULL DEFAULT 1,
    "broker" TEXT NOT NULL,
    "connected_at" TIMESTAMPTZ(3),
    "keeps_s" INTEGER,
    "failure" TEXT NOT NULL DEFAULT '',
    "changed_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "mqtt_connection_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "mqtt_told" (
    "alert_id" UUID NOT NULL,
    "said" TEXT NOT NULL,

    CONSTRAINT "mqtt_told_pkey" PRIMARY KEY ("alert_id")
);

-- AddForeignKey
ALTER TABLE "mqtt_topic" ADD CONSTRAINT "mqtt_topic_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "mqtt_unread" ADD CONSTRAINT "mqtt_unread_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "mqtt_heard" ADD CONSTRAINT "mqtt_heard_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "mqtt_told" ADD CONSTRAINT "mqtt_told_alert_id_fkey" FOREIGN KEY ("alert_id") REFERENCES "alert"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- One reading of a topic at each site.
CREATE UNIQUE INDEX mqtt_topic_once ON mqtt_topic (site_id, filter) WHERE removed_at IS NULL;
CREATE INDEX mqtt_message_to_read ON mqtt_message (id) WHERE read_at IS NULL;
ALTER TABLE mqtt_topic ADD CONSTRAINT mqtt_topic_filter_said CHECK (filter <> '' AND length(filter) <= 300);
ALTER TABLE mqtt_topic ADD CONSTRAINT mqtt_topic_reading_said CHECK ((payload = 'number') = (unit <> '') AND (payload = 'status') = (silent_word <> ''));
ALTER TABLE mqtt_connection ADD CONSTRAINT mqtt_connection_one_row CHECK (id = 1);
