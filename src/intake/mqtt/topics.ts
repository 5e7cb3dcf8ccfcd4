import type pg from 'pg';
import type { MqttTopic } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { rememberNames } from '../probes/probes.ts';
import { senmlUnit } from '../probes/units.rules.ts';
import { placeAndBringIn } from '../senml/bring-in.ts';
import type { TopicInput } from './topics.schema.ts';

/** The topics that a site listens to. */
export function listTopics(db: Reader, siteId: string): Promise<MqttTopic[]> {
  return db.mqttTopic.findMany({ where: { siteId, removedAt: null }, orderBy: { filter: 'asc' } });
}

/** What the last will of a device says where nobody said otherwise. */
const usualWill = 'offline';

/**
 * Says how a topic is read at a site; a plain number on one topic is placed at once.
 * @throws Refusal 422 for a topic that is listened to already, an instrument out of use, a unit that is none of its quantity
 */
export async function addTopic(work: Work, siteId: string, input: TopicInput): Promise<{ filter: string }> {
  const { filter, payload, unit, silentWord, systemId, kitId } = input;
  await work.tx.mqttTopic.create({
    data: {
      ...{ siteId, filter, payload, createdAt: work.now },
      unit: payload === 'number' ? unit : '',
      silentWord: payload === 'status' ? silentWord || usualWill : '',
    },
  });
  work.record('mqtt_topic.added', { type: 'site', id: siteId }, { topic: filter, payload });
  if (systemId !== null && kitId !== null) await place(work, filter, { systemId, kitId, unit });
  return { filter };
}

async function place(
  work: Work,
  name: string,
  { systemId, kitId, unit }: { systemId: string; kitId: string; unit: string },
): Promise<void> {
  const kit = await work.tx.kit.findUnique({
    where: { id: kitId },
    include: { method: { include: { quantity: true } } },
  });
  if (kit === null) throw notFound('This instrument');
  const read = senmlUnit(kit.method.quantity, unit);
  if ('fault' in read) throw new Refusal(`${read.fault}.`, { field: 'unit' });
  await rememberNames(work, [name]);
  const known = await work.tx.probeName.findUnique({ where: { name } });
  if (known === null)
    throw new Refusal('Too many names wait to be placed. Place those under Probes first.', {
      field: 'filter',
    });
  await placeAndBringIn(work, { name, systemId, kitId, version: known.version });
}

/** Ends listening to a topic; what came on it stays. @throws Refusal 404, also for one of another site */
export async function removeTopic(work: Work, siteId: string, id: string): Promise<{ filter: string }> {
  const { count } = await work.tx.mqttTopic.updateMany({
    where: { id, siteId, removedAt: null },
    data: { removedAt: work.now },
  });
  if (count === 0) throw notFound('This topic');
  const { filter } = await work.tx.mqttTopic.findUniqueOrThrow({ where: { id } });
  await reevaluateSite(work, siteId);
  work.record('mqtt_topic.removed', { type: 'site', id: siteId }, { topic: filter });
  return { filter };
}

/** A topic of last wills that comes or goes changes which devices are told as silent. */
async function reevaluateSite(work: Work, siteId: string): Promise<void> {
  const systems = await work.tx.system.findMany({ where: { siteId, retiredAt: null }, select: { id: true } });
  for (const { id } of systems) work.reevaluate(id);
}

/** A topic on which something came, with what its name stands for where it is one. */
export interface HeardTopic {
  topic: string;
  lastAt: Date;
  messages: number;
  silentSince: Date | null;
}

const heard = `
  SELECT topic, last_at AS "lastAt", messages::float8 AS messages, silent_since AS "silentSince"
    FROM mqtt_heard WHERE site_id = $1 ORDER BY silent_since IS NULL, topic LIMIT $2`;

/** The most topics, and the most faults, that a page lists (own choice). */
export const mostListed = 200;

/** Topics on which something came, silent devices first. One query. */
export async function heardTopics(pool: pg.Pool, siteId: string): Promise<HeardTopic[]> {
  return (await pool.query<HeardTopic>(heard, [siteId, mostListed])).rows;
}

/** Something that could not be read. */
export interface Unread {
  topic: string;
  reason: string;
  payload: string;
  times: number;
  lastAt: Date;
}

const unread = `
  SELECT topic, reason, payload, times, last_at AS "lastAt" FROM mqtt_unread
   WHERE site_id = $1 AND last_at >= $2 ORDER BY last_at DESC, topic LIMIT $3`;

/** What could not be read since a time, the newest first. One query. */
export async function unreadSince(pool: pg.Pool, siteId: string, since: Date): Promise<Unread[]> {
  return (await pool.query<Unread>(unread, [siteId, since, mostListed])).rows;
}
