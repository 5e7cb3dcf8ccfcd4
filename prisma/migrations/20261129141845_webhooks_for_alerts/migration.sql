-- CreateTable
CREATE TABLE "webhook" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "address" TEXT NOT NULL,
    "events" TEXT[],
    "secret" TEXT NOT NULL,
    "older_secret" TEXT,
    "older_until" TIMESTAMPTZ(3),
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "failing_since" TIMESTAMPTZ(3),
    "off_since" TIMESTAMPTZ(3),
    "off_reason" TEXT NOT NULL DEFAULT '',
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "webhook_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "webhook_delivery" (
    "id" UUID NOT NULL,
    "webhook_id" UUID NOT NULL,
    "event" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "told" JSONB NOT NULL,
    "body" TEXT NOT NULL DEFAULT '',
    "attempts" INTEGER NOT NULL DEFAULT 0,
    "next_at" TIMESTAMPTZ(3) NOT NULL,
    "tried_at" TIMESTAMPTZ(3),
    "status" INTEGER,
    "answer" TEXT NOT NULL DEFAULT '',
    "ms" INTEGER,
    "delivered_at" TIMESTAMPTZ(3),
    "given_up_at" TIMESTAMPTZ(3),

    CONSTRAINT "webhook_delivery_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "webhook_delivery_webhook_id_at_idx" ON "webhook_delivery"("webhook_id", "at");

-- AddForeignKey
ALTER TABLE "webhook" ADD CONSTRAINT "webhook_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "webhook_delivery" ADD CONSTRAINT "webhook_delivery_webhook_id_fkey" FOREIGN KEY ("webhook_id") REFERENCES "webhook"("id") ON DELETE CASCADE ON UPDATE CASCADE;

CREATE UNIQUE INDEX webhook_once ON webhook (site_id, address) WHERE removed_at IS NULL;
CREATE INDEX webhook_delivery_waiting ON webhook_delivery (next_at) WHERE delivered_at IS NULL AND given_up_at IS NULL;
ALTER TABLE webhook ADD CONSTRAINT webhook_address_said CHECK (address ~ '^https?://' AND length(address) <= 500);
ALTER TABLE webhook ADD CONSTRAINT webhook_secret_said CHECK (secret ~ '^whsec_' AND (older_secret IS NULL) = (older_until IS NULL));
ALTER TABLE webhook_delivery ADD CONSTRAINT webhook_delivery_ended_once CHECK (delivered_at IS NULL OR given_up_at IS NULL);

-- What is sent is written in the transaction in which it happens: it is there exactly when the change is.
CREATE FUNCTION tell_webhooks_of_alerts() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT EXISTS (SELECT FROM webhook WHERE removed_at IS NULL AND off_since IS NULL) THEN RETURN NULL; END IF;
  INSERT INTO webhook_delivery (id, webhook_id, event, at, next_at, told)
  SELECT gen_random_uuid(), hook.id, happened.event, happened.at, happened.at,
         jsonb_build_object(
           'subject', 'alerts/' || alert.id, 'page', '/watch/' || alert.id,
           'data', jsonb_strip_nulls(jsonb_build_object(
             'alert', alert.id, 'rule', alert.rule, 'urgency', alert.severity,
             'title', coalesce(happened.detail ->> 'title', alert.title), 'numbers', alert.finding ->> 'numbers',
             'firstStep', alert.finding ->> 'firstStep', 'about', jsonb_build_object('type', alert.subject_type, 'id', alert.subject_id),
             'openedAt', alert.opened_at, 'done', happened.detail ->> 'what', 'because', happened.detail ->> 'because',
             'putOffUntil', happened.detail ->> 'until', 'reason', happened.detail ->> 'reason',
             'system', jsonb_build_object('id', system.id, 'name', system.name),
             'site', jsonb_build_object('id', site.id, 'name', site.name))))
    FROM (SELECT *, 'alert.' || CASE kind WHEN 'worse' THEN 'worsened' WHEN 'better' THEN 'eased' WHEN 'acted' THEN 'acted_on'
                                WHEN 'back' THEN 'returned' ELSE kind END AS event FROM written) AS happened
    JOIN alert ON alert.id = happened.alert_id JOIN system ON system.id = alert.system_id JOIN site ON site.id = system.site_id
    JOIN webhook AS hook ON hook.site_id = site.id AND hook.removed_at IS NULL AND hook.off_since IS NULL
                        AND happened.event = ANY (hook.events);
  RETURN NULL;
END $$;
CREATE TRIGGER alert_event_told_to_webhooks AFTER INSERT ON alert_event REFERENCING NEW TABLE AS written
  FOR EACH STATEMENT EXECUTE FUNCTION tell_webhooks_of_alerts();

-- At the end of the transaction, when the systems that it concerns are written too.
CREATE FUNCTION tell_webhooks_of_emergencies() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
  told_of text := 'emergency.' || CASE WHEN TG_OP = 'INSERT' THEN 'begun' ELSE 'ended' END;
  happened_at timestamptz := CASE WHEN TG_OP = 'INSERT' THEN NEW.started_at ELSE NEW.ended_at END;
BEGIN
  INSERT INTO webhook_delivery (id, webhook_id, event, at, next_at, told)
  SELECT gen_random_uuid(), hook.id, told_of, happened_at, happened_at,
         jsonb_build_object(
           'subject', 'emergencies/' || NEW.id, 'page', '/emergencies/' || NEW.id,
           'data', jsonb_strip_nulls(jsonb_build_object(
             'emergency', NEW.id, 'event', NEW.event, 'title', NEW.title, 'startedAt', NEW.started_at, 'endedAt', NEW.ended_at,
             'ending', nullif(NEW.ending, ''),
             'systems', (SELECT coalesce(jsonb_agg(jsonb_build_object('id', system.id, 'name', system.name) ORDER BY system.name), '[]')
                           FROM emergency_system AS hit JOIN system ON system.id = hit.system_id WHERE hit.emergency_id = NEW.id),
             'site', jsonb_build_object('id', site.id, 'name', site.name))))
    FROM site JOIN webhook AS hook ON hook.site_id = site.id AND hook.removed_at IS NULL AND hook.off_since IS NULL
                                  AND told_of = ANY (hook.events)
   WHERE site.id = NEW.site_id;
  RETURN NULL;
END $$;
CREATE CONSTRAINT TRIGGER emergency_begun_told_to_webhooks AFTER INSERT ON emergency DEFERRABLE INITIALLY DEFERRED
  FOR EACH ROW EXECUTE FUNCTION tell_webhooks_of_emergencies();
CREATE CONSTRAINT TRIGGER emergency_ended_told_to_webhooks AFTER UPDATE OF ended_at ON emergency DEFERRABLE INITIALLY DEFERRED
  FOR EACH ROW WHEN (OLD.ended_at IS NULL AND NEW.ended_at IS NOT NULL) EXECUTE FUNCTION tell_webhooks_of_emergencies();
