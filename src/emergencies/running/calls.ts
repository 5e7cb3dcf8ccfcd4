import { uuidv7 } from 'uuidv7';
import { listOnCall } from '../../farm/contacts/contacts.ts';
import { managersOf } from '../../people/memberships.ts';
import { change, type Work } from '../../platform/change.ts';
import type { Service } from '../../platform/service.ts';
import { findEvent } from '../events/events.rules.ts';
import { callLetterQueue } from './call-letters.ts';
import { type Call, calledName, nextCall, nextCallAt } from './calls.rules.ts';
import { type EmergencyLine, entriesOf, notedEntries, openEmergencies } from './list.ts';

/** Calls the next one wherever nobody has answered a call or a look for too long. Each minute, without anybody’s tap. */
export async function callWhereSilent(service: Service, now: Date): Promise<void> {
  for (const line of await openEmergencies(service.pool)) await callNext(service, line, now);
}

async function callNext(service: Service, line: EmergencyLine, now: Date): Promise<void> {
  const [entries, onCall] = await Promise.all([
    entriesOf(service.pool, line.id),
    listOnCall(service.db, line.siteId),
  ]);
  const due = nextCallAt(entries, findEvent(line.event).silenceMin, line.startedAt);
  if (due === null || due > now) return;
  const call = onCall.length > 0 || (await canTellManagers(service, line)) ? nextCall(entries, onCall) : null;
  if (call === null) return;
  const { length } = await notedEntries(service.pool, line.id);
  await change({ ...service, now: () => now }, { accountId: null }, (work) =>
    noteCall(work, service, line, call, length),
  );
}

/** The managers are told by mail alone. */
const canTellManagers = async ({ db, config }: Service, { siteId }: EmergencyLine): Promise<boolean> =>
  config.SMTP_URL !== undefined && (await managersOf(db, siteId)).length > 0;

/** Keeps that somebody was called and writes to them; nothing where something was noted meanwhile. */
async function noteCall(
  work: Work,
  { jobs }: Service,
  { id }: EmergencyLine,
  { to }: Call<{ id: string; name: string }>,
  known: number,
): Promise<void> {
  await work.tx.$executeRaw`SELECT pg_advisory_xact_lock(hashtextextended(${id}, 0))`;
  const text = calledName(to);
  if ((await work.tx.emergencyEntry.count({ where: { emergencyId: id } })) !== known) {
    work.record('emergency.sent_again', { type: 'emergency', id });
    return;
  }
  const entry = { id: uuidv7(), emergencyId: id, kind: 'called' as const, text, at: work.now };
  const contactId = typeof to === 'string' ? null : to.id;
  await work.tx.emergencyEntry.create({ data: { ...entry, contactId, createdAt: work.now } });
  await jobs.send(work.tx, callLetterQueue, { entryId: entry.id });
  work.record('emergency.called', { type: 'emergency', id }, { text, contactId });
}
