import { createHash } from 'node:crypto';
import type pg from 'pg';
import { change, type Work } from '../../platform/change.ts';
import { isDatabaseAway } from '../../platform/database/away.ts';
import type { Reader, Service, Tx } from '../../platform/service.ts';
import { cleanText } from '../../platform/web/clean-text.ts';
import { dayMs } from '../../science/numeric/time.ts';
import type { ResolvedRecord } from '../senml/senml.rules.ts';
import { type PackResult, savePack } from '../senml/senml.ts';
import { matches } from './filters.rules.ts';
import { longestTopic, type Reading, readMessage } from './payloads.rules.ts';

/** A message as the broker hands it over. */
export interface Arrival {
  topic: string;
  payload: Buffer;
  retained: boolean;
  /** It waited at the broker while nobody here listened. */
  waited: boolean;
  packetId: number;
  /** The broker says that it may have sent it before. */
  again: boolean;
  at: Date;
}

/** So many of the newest messages are known again: far more than a broker leaves open at once (own choice). */
const remembered = 1000;

const keep = `
  INSERT INTO mqtt_message (topic, payload, retained, waited, packet_id, digest, arrived_at)
  SELECT $1, $2, $3, $4, $5::int, $6::bytea, $7
   WHERE NOT ($8::boolean AND EXISTS (
     SELECT FROM (SELECT packet_id, digest FROM mqtt_message ORDER BY id DESC LIMIT ${remembered}) AS newest
      WHERE packet_id = $5 AND digest = $6))`;

/**
 * Keeps a message until it is read: once this has returned, its row is safe and the broker may forget it. One that the
 * broker sends again, since it never heard that it had come, is known by its number and its content and kept once.
 */
export async function keepMessage(pool: pg.Pool, arrival: Arrival): Promise<void> {
  const { topic, payload, retained, waited, packetId, again, at } = arrival;
  const digest = createHash('sha256').update(topic).update('\0').update(payload).digest();
  await pool.query(keep, [topic, payload, retained, waited, packetId, digest, at, again]);
}

interface Waiting {
  id: string;
  topic: string;
  payload: Buffer;
  retained: boolean;
  waited: boolean;
  arrivedAt: Date;
}

interface SiteTopic extends Reading {
  siteId: string;
  filter: string;
}

interface Fault {
  topic: string;
  reason: string;
  payload: string;
  at: Date;
}

/** What some messages say for one site. */
interface Said {
  records: ResolvedRecord[];
  /** The topic on which each name came. */
  topicOf: Map<string, string>;
  faults: Fault[];
  heard: { topic: string; at: Date; silent: boolean | null }[];
}

/** Read together: enough for one transaction to pay, few enough for it to be short (own choice). */
const batch = 200;

/**
 * Reads the messages that wait, for each site that listens to their topics, in the order they came: what they say is
 * saved, and they count as read, in one transaction. One instance at a time does.
 * @returns how many were read; 0 when none is left
 */
export async function readWaiting(service: Service): Promise<number> {
  try {
    return await readSome(service, batch);
  } catch (error) {
    // A database that is away fails the next one too. What takes too long together is read one by one.
    if (!isDatabaseAway(error))
      service.log.error({ err: error }, 'messages of the broker could not be saved together');
    return readOne(service);
  }
}

/** Reads one by itself, so that one that breaks holds up no other: it is told of as what could not be read. */
async function readOne(service: Service): Promise<number> {
  try {
    return await readSome(service, 1);
  } catch (error) {
    if (isDatabaseAway(error)) throw error;
    const reason = `could not be saved (${error instanceof Error ? error.message : String(error)})`;
    const messages = await waiting(service.pool, 1);
    const topics = await topicsOf(service.db);
    await service.db.$transaction(async (tx) => {
      await settle(tx, messages, service.now());
      for (const one of messages)
        for (const siteId of new Set(topics.filter(hears(one)).map((topic) => topic.siteId)))
          await noteFaults(tx, siteId, [faultOf(one, reason)]);
    });
    return messages.length;
  }
}

async function readSome(service: Service, most: number): Promise<number> {
  const messages = await waiting(service.pool, most);
  if (messages.length === 0) return 0;
  const sites = bySite(messages, await topicsOf(service.db));
  const turned = await turnedDevices(service.pool, sites);
  const tellsTheFarm = turned.length > 0 || [...sites.values()].some(({ records }) => records.length > 0);
  if (tellsTheFarm)
    await change(service, { accountId: null }, async (work) => {
      await settle(work.tx, messages, work.now);
      for (const [siteId, said] of sites) await saveSaid(work, siteId, said);
      for (const { id } of await systemsOf(work.tx, turned)) work.reevaluate(id);
      for (const { siteId, topic, silent } of turned)
        work.record(
          silent ? 'mqtt_topic.silent' : 'mqtt_topic.heard',
          { type: 'site', id: siteId },
          { topic },
        );
    });
  else
    await service.db.$transaction(async (tx) => {
      await settle(tx, messages, service.now());
      for (const [siteId, said] of sites) await noteHeard(tx, siteId, said);
    });
  return messages.length;
}

/** Read together, in bytes: what a large pack takes is more than enough at once (own choice). */
const batchBytes = 500_000;

const waitingSql = `
  SELECT id::text, topic, payload, retained, waited, arrived_at AS "arrivedAt"
    FROM (SELECT *, sum(octet_length(payload)) OVER (ORDER BY id) - octet_length(payload) AS before
            FROM (SELECT * FROM mqtt_message WHERE read_at IS NULL ORDER BY id LIMIT $1) AS newest) AS those
   WHERE before < ${batchBytes} ORDER BY those.id`;

async function waiting(pool: pg.Pool, most: number): Promise<Waiting[]> {
  return (await pool.query<Waiting>(waitingSql, [most])).rows;
}

/** Counts messages as read, and lets go of old ones. @throws Error where another instance has read one of them meanwhile */
async function settle(tx: Tx, messages: readonly Waiting[], now: Date): Promise<void> {
  const ids = messages.map(({ id }) => id);
  const settled = await tx.$executeRaw`
    UPDATE mqtt_message SET read_at = ${now} WHERE id = ANY(${ids}::bigint[]) AND read_at IS NULL`;
  if (settled !== ids.length) throw new Error('another instance reads the messages of the broker');
  await tx.$executeRaw`
    DELETE FROM mqtt_message
     WHERE read_at IS NOT NULL AND id < (SELECT max(id) FROM mqtt_message) - ${remembered}`;
}

const hears =
  ({ topic }: { topic: string }) =>
  (one: SiteTopic) =>
    matches(one.filter, topic);

async function topicsOf(db: Reader): Promise<SiteTopic[]> {
  return db.mqttTopic.findMany({
    where: { removedAt: null },
    select: { siteId: true, filter: true, payload: true, unit: true, silentWord: true },
    orderBy: { createdAt: 'asc' },
  });
}

const faultOf = ({ topic, payload, arrivedAt }: Waiting, reason: string): Fault => ({
  ...{ topic, reason, at: arrivedAt },
  payload: cleanText(payload.toString('utf8')).slice(0, 200),
});

/** What is to be known of a value whose time is that of its arrival, and which waited at the broker before. */
const waitedNote =
  'It states no time and waited at the broker: it was measured at some time before it arrived.';

function bySite(messages: readonly Waiting[], topics: readonly SiteTopic[]): Map<string, Said> {
  const sites = new Map<string, Said>();
  for (const message of messages) {
    for (const topic of topics.filter(hears(message))) {
      const said = sites.get(topic.siteId) ?? { records: [], topicOf: new Map(), faults: [], heard: [] };
      sites.set(topic.siteId, said);
      takeIn(said, topic, message);
    }
  }
  return sites;
}

function takeIn(said: Said, reading: Reading, message: Waiting): void {
  const { topic, arrivedAt, waited } = message;
  const told = readMessage(reading, { ...message, arrivedAt: arrivedAt.getTime() / 1000 });
  if (topic.length <= longestTopic)
    said.heard.push({ topic, at: arrivedAt, silent: 'silent' in told ? told.silent : null });
  if ('fault' in told) said.faults.push(faultOf(message, told.fault));
  if (!('records' in told)) return;
  for (const record of told.records) {
    said.records.push(waited && !record.timed ? { ...record, note: waitedNote } : record);
    said.topicOf.set(record.n, topic);
  }
}

interface Turned {
  siteId: string;
  topic: string;
  silent: boolean;
}

const silentSql = `SELECT site_id || ' ' || topic AS key FROM mqtt_heard WHERE silent_since IS NOT NULL`;

/** Devices that fell silent by what came, or are heard again. */
async function turnedDevices(pool: pg.Pool, sites: ReadonlyMap<string, Said>): Promise<Turned[]> {
  const said = [...sites].flatMap(([siteId, { heard }]) =>
    lastOf(heard).flatMap(({ topic, silent }) => (silent === null ? [] : [{ siteId, topic, silent }])),
  );
  if (said.length === 0) return [];
  const before = new Set((await pool.query<{ key: string }>(silentSql)).rows.map(({ key }) => key));
  return said.filter(({ siteId, topic, silent }) => silent !== before.has(`${siteId} ${topic}`));
}

/** The systems of the sites where a device turned: in one of them it is told. */
const systemsOf = async (tx: Tx, turned: readonly Turned[]): Promise<{ id: string }[]> =>
  turned.length === 0
    ? []
    : tx.system.findMany({
        where: { siteId: { in: turned.map(({ siteId }) => siteId) }, retiredAt: null },
        select: { id: true },
      });

/** What came last on each topic. */
function lastOf(heard: Said['heard']) {
  return [...Map.groupBy(heard, ({ topic }) => topic)].map(([topic, all]) => ({
    topic,
    at: all.at(-1)?.at.toISOString(),
    messages: all.length,
    silent: all.findLast(({ silent }) => silent !== null)?.silent ?? null,
  }));
}

async function saveSaid(work: Work, siteId: string, said: Said): Promise<void> {
  if (said.records.length > 0) {
    const result = await savePack(work, siteId, said.records);
    said.faults.push(...faultsOf(result, said, work.now));
  }
  await noteHeard(work.tx, siteId, said);
}

const unplaced = 'is not known yet: say under Probes what it is';

/** What was refused of a pack, by the topic on which it came, in the words of the door for SenML. */
function faultsOf({ rejected, unknown }: PackResult, { topicOf }: Said, now: Date): Fault[] {
  const of = (name: string, reason: string, value: string): Fault => {
    const topic = topicOf.get(name) ?? name;
    return { topic, reason: topic === name ? reason : `${name}: ${reason}`, payload: value, at: now };
  };
  return [
    ...rejected.map(({ name, value, reason }) => of(name, reason, String(value))),
    ...unknown.map((name) => of(name, unplaced, '')),
  ];
}

/** Topics and faults are kept up to this number a site, so that one who makes them up cannot fill the table; own choice. */
const mostKept = 1000;
const faultsKeptDays = 30;

/** Notes on which topics something came, which devices are silent, and what could not be read. */
async function noteHeard(tx: Tx, siteId: string, { heard, faults }: Said): Promise<void> {
  await noteFaults(tx, siteId, faults);
  await tx.$executeRaw`
    INSERT INTO mqtt_heard AS kept (site_id, topic, last_at, messages, silent_since)
    SELECT ${siteId}::uuid, topic, at, messages, CASE WHEN silent THEN at END
      FROM json_to_recordset(${JSON.stringify(lastOf(heard))}::json)
        AS came(topic text, at timestamptz, messages bigint, silent boolean)
     WHERE (SELECT count(*) FROM mqtt_heard WHERE site_id = ${siteId}::uuid) < ${mostKept}
        OR EXISTS (SELECT FROM mqtt_heard AS there WHERE there.site_id = ${siteId}::uuid AND there.topic = came.topic)
        ON CONFLICT (site_id, topic) DO UPDATE
       SET last_at = excluded.last_at, messages = kept.messages + excluded.messages,
           silent_since = CASE WHEN excluded.silent_since IS NULL THEN NULL
                               ELSE coalesce(kept.silent_since, excluded.silent_since) END`;
}

/** Topics and reasons are kept up to this length: they are keys, whose size the database bounds. */
const cut = (text: string) =>
  cleanText(text.length > longestTopic ? `${text.slice(0, longestTopic - 1)}…` : text);

async function noteFaults(tx: Tx, siteId: string, all: readonly Fault[]): Promise<void> {
  if (all.length === 0) return;
  const faults = all.map((one) => ({ ...one, topic: cut(one.topic), reason: cut(one.reason) }));
  const last = [...Map.groupBy(faults, ({ topic, reason }) => JSON.stringify([topic, reason])).values()].map(
    (same) => ({ ...same.at(-1), times: same.length }),
  );
  const newest = Math.max(...faults.map(({ at }) => at.getTime()));
  await tx.$executeRaw`
    INSERT INTO mqtt_unread (site_id, topic, reason, payload, times, last_at)
    SELECT ${siteId}::uuid, topic, reason, payload, times, at
      FROM json_to_recordset(${JSON.stringify(last)}::json)
        AS fault(topic text, reason text, payload text, times int, at timestamptz)
        ON CONFLICT (site_id, topic, reason) DO UPDATE
       SET payload = excluded.payload, times = mqtt_unread.times + excluded.times, last_at = excluded.last_at`;
  await tx.$executeRaw`
    DELETE FROM mqtt_unread WHERE site_id = ${siteId}::uuid
       AND (last_at < ${new Date(newest - faultsKeptDays * dayMs)}
            OR (topic, reason) IN (SELECT topic, reason FROM mqtt_unread WHERE site_id = ${siteId}::uuid
                                    ORDER BY last_at DESC OFFSET ${mostKept}))`;
}
