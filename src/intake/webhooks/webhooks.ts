import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { giveUpWaiting } from './deliveries.ts';
import { testEvent } from './events.rules.ts';
import { newSecret } from './signing.ts';

/** A webhook as pages show it: without its secrets. */
export interface Webhook {
  id: string;
  siteId: string;
  address: string;
  events: string[];
  createdAt: Date;
  olderUntil: Date | null;
  failingSince: Date | null;
  offSince: Date | null;
  offReason: string;
}

const shown = {
  ...{ id: true, siteId: true, address: true, events: true, createdAt: true, olderUntil: true },
  ...{ failingSince: true, offSince: true, offReason: true },
} as const;

/** The webhooks of a site, by address. */
export const listWebhooks = (db: Reader, siteId: string): Promise<Webhook[]> =>
  db.webhook.findMany({ where: { siteId, removedAt: null }, select: shown, orderBy: { address: 'asc' } });

/** @throws Refusal 404 */
export async function findWebhook(db: Reader, id: string): Promise<Webhook> {
  const found = await db.webhook.findFirst({ where: { id, removedAt: null }, select: shown });
  if (found === null) throw notFound('This webhook');
  return found;
}

/** Adds an address that is told of events. The secret is in the answer and on no page after it. @throws Refusal 409 twice */
export async function addWebhook(
  work: Work,
  siteId: string,
  { address, events }: { address: string; events: string[] },
): Promise<{ id: string; secret: string }> {
  const secret = newSecret();
  const { id } = await work.tx.webhook.create({
    data: { siteId, address, events, secret, createdAt: work.now },
  });
  work.record('webhook.added', { type: 'site', id: siteId }, { address, events });
  return { id, secret };
}

/** What a change of the events writes over. */
export const eventsStanding = (id: string): Standing => ({
  what: 'the events of this webhook',
  read: async (reader) => (await findWebhook(reader, id)).events,
});

/** Chooses other events; what waits already is sent. @throws Refusal 404 */
export async function chooseEvents(work: Work, id: string, events: string[]): Promise<void> {
  const { siteId, address, events: before } = await findWebhook(work.tx, id);
  await work.tx.webhook.update({ where: { id }, data: { events } });
  const detail = { address, before: { events: before }, after: { events } };
  work.record('webhook.changed', { type: 'site', id: siteId }, detail);
}

/** Both secrets sign for so long, so that the receiver can take the new one in its own time. */
const bothDays = 1;

/** Makes a new secret; the one before it signs for a day more. @throws Refusal 404 */
export async function renewSecret(work: Work, id: string): Promise<{ id: string; secret: string }> {
  const { siteId, address } = await findWebhook(work.tx, id);
  const { secret: older } = await work.tx.webhook.findUniqueOrThrow({ where: { id } });
  const secret = newSecret();
  const olderUntil = daysAfter(work.now, bothDays);
  await work.tx.webhook.update({ where: { id }, data: { secret, olderSecret: older, olderUntil } });
  work.record('webhook.secret_renewed', { type: 'site', id: siteId }, { address });
  return { id, secret };
}

/** Switches an address off or on again. What waits when it goes off is not delivered. @throws Refusal 404, 409 where it is so already */
export async function switchWebhook(work: Work, id: string, on: boolean): Promise<void> {
  const { siteId, address, offSince } = await findWebhook(work.tx, id);
  if ((offSince === null) === on)
    throw new Refusal(`It is switched ${on ? 'on' : 'off'} already.`, { status: 409 });
  await work.tx.webhook.update({
    where: { id },
    data: { offSince: on ? null : work.now, offReason: '', failingSince: null },
  });
  if (!on) await giveUpWaiting(work, id);
  const kind = on ? 'webhook.switched_on' : 'webhook.switched_off';
  work.record(kind, { type: 'site', id: siteId }, { address });
}

/** Takes an address off for good; its deliveries go with the month. @throws Refusal 404 */
export async function removeWebhook(work: Work, id: string): Promise<{ address: string }> {
  const { siteId, address } = await findWebhook(work.tx, id);
  await giveUpWaiting(work, id);
  await work.tx.webhook.update({ where: { id }, data: { removedAt: work.now } });
  work.record('webhook.removed', { type: 'site', id: siteId }, { address });
  return { address };
}

/** Writes a test, which is sent like every other event. @throws Refusal 404; 409 where the address is off */
export async function testWebhook(work: Work, id: string): Promise<void> {
  const { offSince, siteId, address } = await findWebhook(work.tx, id);
  if (offSince !== null)
    throw new Refusal('Nothing is sent to this address: switch it on first.', { status: 409 });
  const site = await work.tx.site.findUniqueOrThrow({
    where: { id: siteId },
    select: { id: true, name: true },
  });
  const told = { subject: `sites/${siteId}`, page: '/farm/webhooks', data: { title: 'A test', site } };
  await work.tx.webhookDelivery.create({
    data: { webhookId: id, event: testEvent, at: work.now, nextAt: work.now, told },
  });
  work.record('webhook.tested', { type: 'site', id: siteId }, { address });
}
