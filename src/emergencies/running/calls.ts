import { uuidv7 } from 'uuidv7';
import { listOnCall } from '../../farm/contacts/contacts.ts';
import { change, type Work } from '../../platform/change.ts';
import type { Service } from '../../platform/service.ts';
import { findEvent } from '../events/events.rules.ts';
import { callLetterQueue } from './call-letters.ts';
import { type Call, nextCall, nextCallAt } from './calls.rules.ts';
import { type EmergencyLine, entriesOf, openEmergencies } from './list.ts';

/** Calls the next one wherever nobody has answered a call or a look for too long. Each minute, without anybody’s tap. */
export async function callWhereSilent(service: Service, now: Date): Promise<void> {
  for (const line of await openEmergencies(service.pool)) await callNext(service, line, now);
}

async function callNext(service: Service, line: EmergencyLine, now: Date): Promise<void> {
  const [entries, onCall] = await Promise.all([
    entriesOf(service.pool, line.id),
    listOnCall(service.db, line.siteId),
  ]);
  const due = nextCallAt(entries, findEvent(line.event).silenceMin);
  const call = due === null || due > now ? null : nextCall(entries, onCall);
  if (call === null) return;
  const { length } = entries;
  await change({ ...service, now: () => now }, { accountId: null }, (work) =>
    noteCall(work, service, line, call, length),
  );
}

/** Keeps that somebody was called and writes to them; nothing where something was noted meanwhile. */
async function noteCall(
  work: Work,
  { jobs }: Service,
  { id }: EmergencyLine,
  { to }: Call<{ id: string; name: string }>,
  known: number,
): Promise<void> {
  await work.tx.$executeRaw`SELECT pg_advisory_xact_lock(hashtextextended(${id}, 0))`;
  const text = to === 'all' ? 'everybody on call' : to.name;
  if ((await work.tx.emergencyEntry.count({ where: { emergencyId: id } })) !== known) {
    work.record('emergency.sent_again', { type: 'emergency', id });
    return;
  }
  const entry = { id: uuidv7(), emergencyId: id, kind: 'called' as const, text, at: work.now };
  const contactId = to === 'all' ? null : to.id;
  await work.tx.emergencyEntry.create({ data: { ...entry, contactId, createdAt: work.now } });
  await jobs.send(work.tx, callLetterQueue, { entryId: entry.id });
  work.record('emergency.called', { type: 'emergency', id }, { text, contactId });
}
