import type pg from 'pg';
import { change, type Work } from '../../platform/change.ts';
import { linkBase } from '../../platform/link-base.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { daysBefore, hourMs, minuteMs } from '../../science/numeric/time.ts';
import { networksOf } from './addresses.rules.ts';
import { isTaken, nextTry, reasonToStop } from './deliveries.rules.ts';
import { cloudEvent, messageId, type ToldEvent } from './events.rules.ts';
import { type Answer, postOnce } from './post.ts';
import { signatures, timestampOf } from './signing.ts';

/** The queue of the job that sends what waits. */
export const webhookQueue = 'webhooks';

/** Whoever sends a delivery has put it off by this; if it is killed meanwhile, another instance sends it then. */
const leaseMs = minuteMs;
/** One run of the job ends by then, and the next goes on. */
const longestRunMs = 45_000;
/** Deliveries are kept for a month. */
const keptDays = 30;

interface Waiting {
  id: string;
  webhookId: string;
  siteId: string;
  address: string;
  secret: string;
  olderSecret: string | null;
  event: string;
  at: Date;
  told: ToldEvent;
  body: string;
  attempts: number;
}

// One delivery for each address that is not left alone: the longest due. The lock lets two instances take different ones.
const claim = `
  WITH due AS (
    SELECT one.id FROM webhook AS hook
     CROSS JOIN LATERAL (
       SELECT delivery.id FROM webhook_delivery AS delivery
        WHERE delivery.webhook_id = hook.id AND delivered_at IS NULL AND given_up_at IS NULL AND next_at <= $1::timestamptz
        ORDER BY next_at, delivery.at, delivery.id LIMIT 1 FOR UPDATE SKIP LOCKED) AS one
     WHERE hook.removed_at IS NULL AND hook.off_since IS NULL AND hook.id <> ALL ($2::uuid[])
     LIMIT $4)
  UPDATE webhook_delivery AS taken SET next_at = $3, attempts = attempts + 1
    FROM due, webhook AS hook WHERE taken.id = due.id AND hook.id = taken.webhook_id
  RETURNING taken.id, taken.webhook_id AS "webhookId", hook.site_id AS "siteId", hook.address, hook.secret,
            CASE WHEN hook.older_until > $1 THEN hook.older_secret END AS "olderSecret", taken.event, taken.at, taken.told, taken.body, taken.attempts`;

/** Addresses at once: a slow one holds up none of these (own choice). */
const atOnce = 16;

/** Sends what waits; an address that fails is left alone until the next run. @returns how many were sent */
export async function sendWebhooks(service: Service): Promise<number> {
  const { pool } = service;
  const until = performance.now() + longestRunMs;
  const failed: string[] = [];
  let sent = 0;
  while (performance.now() < until) {
    const now = service.now();
    const leased = new Date(now.getTime() + leaseMs);
    const { rows } = await pool.query<Waiting>(claim, [now, failed, leased, atOnce]);
    if (rows.length === 0) break;
    const results = await Promise.all(rows.map((one) => sendOne(service, one)));
    failed.push(...rows.filter((_, i) => results[i] === false).map(({ webhookId }) => webhookId));
    sent += results.filter((taken) => taken).length;
  }
  await pool.query('DELETE FROM webhook_delivery WHERE at < $1', [daysBefore(service.now(), keptDays)]);
  return sent;
}

async function sendOne(service: Service, one: Waiting): Promise<boolean> {
  const now = service.now();
  const body = one.body || cloudEvent(one, linkBase(service.config));
  const id = messageId(one.id);
  const secrets = [one.secret, ...(one.olderSecret === null ? [] : [one.olderSecret])];
  const headers = {
    'content-type': 'application/cloudevents+json; charset=utf-8',
    'user-agent': 'Evenwater',
    'webhook-id': id,
    'webhook-timestamp': timestampOf(now),
    'webhook-signature': signatures({ id, at: now, body }, secrets),
  };
  const answer = await postOnce(one.address, headers, body, networksOf(service.config.WEBHOOK_NETWORKS));
  await keepAnswer(service, one, body, answer);
  return isTaken(answer.status);
}

async function keepAnswer(service: Service, one: Waiting, body: string, answer: Answer): Promise<void> {
  const { pool } = service;
  const now = service.now();
  const taken = isTaken(answer.status);
  const next = taken ? null : nextTry(one.attempts, answer.status, now);
  await pool.query(
    `UPDATE webhook_delivery SET body = $2, tried_at = $3, status = $4, answer = $5, ms = $6, next_at = coalesce($7, next_at),
            delivered_at = CASE WHEN $8 THEN $3::timestamptz END, given_up_at = CASE WHEN NOT $8 AND $7::timestamptz IS NULL THEN $3::timestamptz END
      WHERE id = $1 AND delivered_at IS NULL`,
    [one.id, body, now, answer.status, answer.answer, answer.ms, next, taken],
  );
  if (taken) {
    await pool.query('UPDATE webhook SET failing_since = NULL WHERE id = $1 AND failing_since IS NOT NULL', [
      one.webhookId,
    ]);
    return;
  }
  const { rows } = await pool.query<{ since: Date }>(
    'UPDATE webhook SET failing_since = coalesce(failing_since, $2) WHERE id = $1 RETURNING failing_since AS since',
    [one.webhookId, now],
  );
  const reason = reasonToStop(answer.status, rows[0]?.since ?? now, now);
  if (reason !== null) await stopByItself(service, one, reason);
}

/** Nothing more is sent to an address that wants nothing, or takes nothing for days. */
async function stopByItself(
  service: Service,
  { webhookId: id, siteId, address }: Waiting,
  reason: string,
): Promise<void> {
  await change(service, { accountId: null }, async (work) => {
    const { count } = await work.tx.webhook.updateMany({
      where: { id, offSince: null },
      data: { offSince: work.now, offReason: reason },
    });
    await giveUpWaiting(work, id);
    const kind = count === 1 ? 'webhook.stopped' : 'webhook.followed';
    work.record(kind, { type: 'site', id: siteId }, { address, reason });
  });
}

/** What waits for an address that is off is not delivered; it can be sent again once it is on. */
export async function giveUpWaiting(work: Work, webhookId: string): Promise<void> {
  await work.tx.webhookDelivery.updateMany({
    where: { webhookId, deliveredAt: null, givenUpAt: null },
    data: { givenUpAt: work.now },
  });
}

/** One delivery as its page lists it. */
export interface DeliveryRow {
  id: string;
  event: string;
  at: Date;
  title: string | null;
  attempts: number;
  triedAt: Date | null;
  nextAt: Date;
  status: number | null;
  answer: string;
  ms: number | null;
  deliveredAt: Date | null;
  givenUpAt: Date | null;
}

const listed = `
  SELECT id, event, at, told -> 'data' ->> 'title' AS title, attempts, tried_at AS "triedAt", next_at AS "nextAt", status, answer, ms,
         delivered_at AS "deliveredAt", given_up_at AS "givenUpAt"
    FROM webhook_delivery WHERE webhook_id = $1 AND (given_up_at IS NOT NULL) = $2 ORDER BY at DESC, id LIMIT $3`;

/** The most that a page lists of each (own choice). */
export const mostShown = 50;

/** The deliveries of a webhook, newest first: those that were given up, or all others. One query. */
export async function deliveriesOf(
  pool: pg.Pool,
  webhookId: string,
  givenUp: boolean,
): Promise<DeliveryRow[]> {
  return (await pool.query<DeliveryRow>(listed, [webhookId, givenUp, mostShown])).rows;
}

/** Deliveries that have not arrived: those tried again by the service, and those that were given up. */
export interface Undelivered {
  waiting: number;
  lost: number;
}

const undelivered = `
  SELECT webhook_id AS id, count(*) FILTER (WHERE given_up_at IS NULL)::int AS waiting,
         count(*) FILTER (WHERE given_up_at IS NOT NULL)::int AS lost
    FROM webhook_delivery WHERE webhook_id = ANY($1::uuid[]) AND delivered_at IS NULL GROUP BY webhook_id`;

/** What has not arrived at each of these webhooks, by id. One query. */
export async function undeliveredOf(
  pool: pg.Pool,
  webhookIds: readonly string[],
): Promise<(id: string) => Undelivered> {
  const { rows } = await pool.query<Undelivered & { id: string }>(undelivered, [webhookIds]);
  const byId = new Map(rows.map(({ id, ...counts }) => [id, counts]));
  return (id) => byId.get(id) ?? { waiting: 0, lost: 0 };
}

/** An address that is off is not written to. */
function refuseWhereOff(offSince: Date | null): void {
  if (offSince !== null)
    throw new Refusal('Nothing is sent to this address: switch it on first.', { status: 409 });
}

/** Sends one again that was given up. @throws Refusal 404; 409 where its address is off, or it waits or has arrived */
export async function sendAgain(work: Work, id: string): Promise<{ webhookId: string }> {
  const found = await work.tx.webhookDelivery.findUnique({ where: { id }, include: { webhook: true } });
  if (found === null || found.webhook.removedAt !== null) throw notFound('This delivery');
  refuseWhereOff(found.webhook.offSince);
  if (found.givenUpAt === null)
    throw new Refusal('This one has arrived, or is tried by itself.', { status: 409 });
  await again(work, { id });
  tellAgain(work, found.webhook, 1);
  return { webhookId: found.webhookId };
}

/** Sends all again that were given up. @throws Refusal 404, 409 where the address is off or there is none */
export async function sendAllAgain(work: Work, webhookId: string): Promise<{ sent: number }> {
  const hook = await work.tx.webhook.findFirst({ where: { id: webhookId, removedAt: null } });
  if (hook === null) throw notFound('This webhook');
  refuseWhereOff(hook.offSince);
  const sent = await again(work, { webhookId });
  if (sent === 0) throw new Refusal('Everything has arrived, or is tried by itself.', { status: 409 });
  tellAgain(work, hook, sent);
  return { sent };
}

const tellAgain = (
  work: Work,
  { siteId, address }: { siteId: string; address: string },
  deliveries: number,
) => work.record('webhook.sent_again', { type: 'site', id: siteId }, { address, deliveries });

async function again(work: Work, which: { id: string } | { webhookId: string }): Promise<number> {
  const { count } = await work.tx.webhookDelivery.updateMany({
    where: { ...which, givenUpAt: { not: null } },
    data: { givenUpAt: null, attempts: 0, nextAt: work.now },
  });
  return count;
}

/** Webhooks of a site that the service switched off, or that have failed for hours: what the manager is told. One query. */
export async function failingWebhooks(
  pool: pg.Pool,
  siteId: string,
  now: Date,
): Promise<{ id: string; address: string; offReason: string }[]> {
  const { rows } = await pool.query<{ id: string; address: string; offReason: string }>(
    `SELECT id, address, off_reason AS "offReason" FROM webhook
      WHERE site_id = $1 AND removed_at IS NULL AND (off_reason <> '' OR (off_since IS NULL AND failing_since < $2)) ORDER BY address`,
    [siteId, new Date(now.getTime() - 6 * hourMs)],
  );
  return rows;
}

const waitingNow = `
  SELECT EXISTS (SELECT FROM webhook_delivery WHERE delivered_at IS NULL AND given_up_at IS NULL AND next_at <= $1) AS "isWaiting"`;

/** Has what waits sent at once: the job looks each minute besides. */
export async function wakeWebhooks(service: Pick<Service, 'db' | 'pool' | 'jobs'>, now: Date): Promise<void> {
  const { rows } = await service.pool.query<{ isWaiting: boolean }>(waitingNow, [now]);
  if (rows[0]?.isWaiting === true)
    await service.db.$transaction((tx) => service.jobs.send(tx, webhookQueue, {}));
}
