import { uuidv7 } from 'uuidv7';
import { contactRoles } from '../../farm/contacts/roles.ts';
import { askForLook, endLook } from '../../farm/looks/looks.ts';
import { seeRunning, stillOff, switchOff } from '../../farm/switched-off/switched-off.ts';
import type { Emergency as EmergencyRow } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { addDays, localDay, momentOf } from '../../platform/days.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { lowered } from '../../platform/words/capitals.ts';
import { whenWords } from '../../platform/words/times.ts';
import { hourMs, minuteMs } from '../../science/numeric/time.ts';
import { findEvent } from '../events/events.rules.ts';
import { againIn } from '../numbers/again.rules.ts';
import { systemNumbers } from '../numbers/system-numbers.ts';
import type { EntryInput, KeyedEntry, StartInput } from './emergencies.schema.ts';
import { type LookEntry, nextLook, withTick } from './progress.rules.ts';

/** @throws Refusal 404 */
export async function findEmergency(db: Reader, id: string): Promise<EmergencyRow> {
  const emergency = await db.emergency.findUnique({ where: { id } });
  if (emergency === null) throw notFound('This record');
  return emergency;
}

/** Whether it was started already. @throws Refusal 404 where it is another site's */
export async function isStarted(db: Reader, siteId: string, id: string): Promise<boolean> {
  const emergency = await db.emergency.findUnique({ where: { id }, select: { siteId: true } });
  if (emergency !== null && emergency.siteId !== siteId) throw notFound('This record');
  return emergency !== null;
}

/** A tablet that sends twice at once: the second waits, and finds all there. */
const oneAfterTheOther = (work: Work, id: string) =>
  work.tx.$executeRaw`SELECT pg_advisory_xact_lock(hashtextextended(${id}, 0))`;

/**
 * Starts it where it is not known yet. The same request twice changes nothing. Times are by the service's clock.
 * @throws Refusal 404 where it is another site's; 422 where a system is not of this site
 */
export async function takeStart(work: Work, siteId: string, id: string, input: StartInput): Promise<void> {
  await oneAfterTheOther(work, id);
  if (!(await startOnce(work, siteId, id, input)))
    work.record('emergency.sent_again', { type: 'emergency', id });
}

/** Adds an entry that a tablet sends, unless it is there. Whether it was new. @throws Refusal as {@link addEntry} */
export async function takeEntry(work: Work, emergencyId: string, entry: KeyedEntry): Promise<boolean> {
  await oneAfterTheOther(work, emergencyId);
  const earlier = await work.tx.emergencyEntry.findUnique({ where: { id: entry.id } });
  if (earlier === null) await addEntry(work, emergencyId, entry);
  else if (earlier.emergencyId !== emergencyId)
    throw new Refusal('This key was used for something else. Enter it again.', { status: 409 });
  else work.record('emergency.sent_again', { type: 'emergency', id: emergencyId });
  return earlier === null;
}

/** Whether it was started by this. */
async function startOnce(work: Work, siteId: string, id: string, input: StartInput): Promise<boolean> {
  const { title, code } = findEvent(input.event);
  if (await isStarted(work.tx, siteId, id)) return false;
  const systemIds = [...new Set(input.systemIds)];
  const own = await work.tx.system.count({ where: { id: { in: systemIds }, siteId } });
  if (own !== systemIds.length) throw new Refusal('Choose systems of this farm.', { field: 'systems' });
  const startedAt = within(input.startedAt, new Date(0), work.now);
  const accountId = await whoDid(work, input.startedBy);
  await work.tx.emergency.create({
    data: { id, siteId, event: code, title, startedAt, accountId, createdAt: work.now },
  });
  await work.tx.emergencySystem.createMany({
    data: systemIds.map((systemId) => ({ emergencyId: id, systemId })),
  });
  work.record('emergency.started', { type: 'emergency', id }, { event: code, title, systemIds, startedAt });
  return true;
}

/** The moment, or the end of the span that it lies beyond. */
const within = (at: Date, from: Date, to: Date) =>
  new Date(Math.max(from.getTime(), Math.min(to.getTime(), at.getTime())));

/** Who tapped it: the person whom the tablet names, where there is one of that id, else who sends it. */
async function whoDid(work: Work, said: string | null): Promise<string | null> {
  if (said === null || said === work.accountId) return work.accountId;
  return (await work.tx.account.count({ where: { id: said } })) === 1 ? said : work.accountId;
}

/**
 * Adds one entry. What is switched off goes to what is off for now as well, and what runs again is seen running there.
 * @throws Refusal 404, 409 where it had ended before, 422 where something is missing
 */
export async function addEntry(work: Work, emergencyId: string, entry: KeyedEntry): Promise<void> {
  const emergency = await findEmergency(work.tx, emergencyId);
  // What was done before its end, on a device that was without a network, belongs to it still.
  if (emergency.endedAt !== null && entry.at >= emergency.endedAt)
    throw new Refusal('This has ended. Start a new one if something is wrong again.', { status: 409 });
  const { id, kind, step, text } = entry;
  if ((kind === 'note' || kind === 'left_off') && text === '')
    throw new Refusal(kind === 'note' ? 'Enter the note.' : 'Enter why it stays off.', { field: 'text' });
  if (
    (kind === 'done' || kind === 'undone') &&
    !findEvent(emergency.event).steps.some(({ code }) => code === step)
  )
    throw new Refusal('Choose one of the steps.', { field: 'step' });
  const at = within(entry.at, emergency.startedAt, work.now);
  const accountId = await whoDid(work, entry.notedBy);
  const switchedOffId = await offFor(work, emergency, entry, at);
  const contact = await contactNamed(work.tx, emergency.siteId, entry);
  const minutes = await minutesUntilLook(work, emergency, entry);
  const dueAt = minutes === null ? null : new Date(at.getTime() + minutes * minuteMs);
  await work.tx.emergencyEntry.create({
    data: {
      ...{ id, emergencyId, kind, step, dueAt, switchedOffId, at, accountId, createdAt: work.now },
      ...{ text: text || (contact?.name ?? ''), contactId: contact?.id ?? null },
    },
  });
  if (emergency.endedAt === null) await askAgain(work, emergency);
  work.record(
    'emergency.noted',
    { type: 'emergency', id: emergencyId },
    { kind, step, text, dueAt, switchedOffId },
  );
}

/**
 * A look that was asked for, or the one that a step brings with it once it is done: sooner where these waters' own
 * numbers say so.
 */
async function minutesUntilLook(
  work: Work,
  { id, siteId, event }: EmergencyRow,
  { kind, step, minutes }: EntryInput,
): Promise<number | null> {
  if (kind === 'look') return minutes ?? 30;
  const known = findEvent(event);
  const ticked = kind === 'done' ? known.steps.find(({ code }) => code === step) : undefined;
  if (ticked?.againMin === undefined) return null;
  const [site, systems] = await Promise.all([
    work.tx.site.findUniqueOrThrow({ where: { id: siteId } }),
    work.tx.emergencySystem.findMany({ where: { emergencyId: id } }),
  ]);
  const ids = systems.map(({ systemId }) => systemId);
  return againIn(known, ticked.againMin, await systemNumbers(readerOf(work.tx), site, work.now, ids)).minutes;
}

/** Who of the farm's list was called or took it; null where nobody of it is named. @throws Refusal 422 */
async function contactNamed(tx: Tx, siteId: string, { kind, contactId }: EntryInput) {
  if (contactId === null || (kind !== 'called' && kind !== 'taken')) {
    if (kind === 'called') throw new Refusal('Choose who was called.', { field: 'contactId' });
    return null;
  }
  const contact = await tx.contact.findFirst({ where: { id: contactId, siteId } });
  if (contact === null) throw new Refusal('Choose somebody of the list.', { field: 'contactId' });
  return { id: contact.id, name: contact.name || contactRoles[contact.role].name };
}

const lookKey = (emergencyId: string) => `emergency:${emergencyId}`;

/** When the next look is due that nobody has taken, here or elsewhere; null where none is. */
async function lookToTake(work: Work, id: string): Promise<Date | null> {
  await keepTick(work, id);
  const entries = await work.tx.emergencyEntry.findMany({
    where: { emergencyId: id, OR: [{ kind: { in: ['looked', 'undone'] } }, { dueAt: { not: null } }] },
    orderBy: [{ at: 'asc' }, { createdAt: 'asc' }, { id: 'asc' }],
  });
  return nextLook(entries);
}

/** Keeps the look that is due with the farm's looks, by which the watch tells of it; none where none is due. */
async function askAgain(work: Work, { id, title }: EmergencyRow): Promise<void> {
  const dueAt = await lookToTake(work, id);
  if (dueAt === null) return endLook(work, lookKey(id));
  const { systemId, where } = await placeOf(work.tx, id);
  await askForLook(work, {
    ...{ systemId, key: lookKey(id), dueAt, urgent: true, href: `/emergencies/${id}` },
    title: `${title}${where}`,
    detail: '',
  });
}

/** A look that was ticked off elsewhere becomes an entry before its row asks for another one. */
async function keepTick(work: Work, emergencyId: string): Promise<void> {
  const look = await work.tx.look.findFirst({ where: { key: lookKey(emergencyId), doneAt: { not: null } } });
  if (look?.doneAt == null) return;
  const entries = await work.tx.emergencyEntry.findMany({
    where: { emergencyId, createdAt: { lt: work.now } },
    orderBy: [{ at: 'asc' }, { createdAt: 'asc' }, { id: 'asc' }],
  });
  const ticked = { id: uuidv7(), at: look.doneAt, who: null, note: look.note };
  const kept = withTick<LookEntry>(entries, ticked, ({ at }) => ({
    kind: 'looked',
    step: '',
    dueAt: null,
    at,
  }));
  if (kept.length === entries.length) return;
  await work.tx.emergencyEntry.create({
    data: {
      ...{ id: ticked.id, emergencyId, kind: 'looked', step: '', text: look.note },
      ...{ at: ticked.at, accountId: look.doneById, createdAt: work.now },
    },
  });
}

/** The system at which a look is kept, and the others in words. */
async function placeOf(tx: Tx, emergencyId: string): Promise<{ systemId: string; where: string }> {
  const rows = await tx.emergencySystem.findMany({
    where: { emergencyId },
    include: { system: { select: { name: true } } },
    orderBy: [{ system: { position: 'asc' } }, { system: { name: 'asc' } }],
  });
  const [first, ...others] = rows;
  if (first === undefined) throw new Error(`emergency ${emergencyId} concerns no system`);
  const also = others.map(({ system }) => system.name).join(', ');
  return { systemId: first.systemId, where: also === '' ? '' : ` (also ${also})` };
}

async function offFor(
  work: Work,
  emergency: EmergencyRow,
  entry: EntryInput,
  at: Date,
): Promise<string | null> {
  if (entry.kind === 'off') return startOff(work, emergency, entry, at);
  if (entry.kind !== 'running' && entry.kind !== 'left_off') return null;
  const id = await offNamed(work.tx, entry.offId);
  if (entry.kind === 'running') await seeRunning(work, id, { at, seen: entry.text });
  return id;
}

async function startOff(work: Work, emergency: EmergencyRow, entry: EntryInput, at: Date): Promise<string> {
  if (entry.systemId === null) throw new Refusal('Choose the system.', { field: 'systemId' });
  const concerned = { emergencyId: emergency.id, systemId: entry.systemId };
  if ((await work.tx.emergencySystem.count({ where: concerned })) === 0)
    throw new Refusal('Choose one of the systems that this concerns.', { field: 'systemId' });
  const { systemId, equipmentId, thing, text } = entry;
  const row = await switchOff(work, { systemId, equipmentId, thing, what: text, why: emergency.title, at });
  return row.id;
}

/** What was switched off, by its own id or by that of the entry which said so. @throws Refusal 404 */
async function offNamed(tx: Tx, id: string | null): Promise<string> {
  if (id === null) throw new Refusal('Choose what it is.', { field: 'offId' });
  const entry = await tx.emergencyEntry.findUnique({ where: { id }, select: { switchedOffId: true } });
  return entry?.switchedOffId ?? id;
}

/** What was switched off in its systems since it started, and of which nobody has said that it runs or why not. */
export async function notYetRunning(db: Reader, emergency: EmergencyRow) {
  const systems = await db.emergencySystem.findMany({ where: { emergencyId: emergency.id } });
  return db.switchedOff.findMany({
    where: {
      ...stillOff,
      systemId: { in: systems.map(({ systemId }) => systemId) },
      offAt: { gte: emergency.startedAt },
      emergencyEntries: { none: { kind: 'left_off' } },
    },
    include: { system: { select: { name: true } } },
    orderBy: [{ offAt: 'asc' }, { id: 'asc' }],
  });
}

/**
 * Ends it. Said twice, the first time counts.
 * @throws Refusal 404; 409 while something that was switched off was not seen running and has no reason to stay off, or a look is
 * still to be taken that nobody has said to leave out
 */
export async function endEmergency(
  work: Work,
  id: string,
  { ending, withoutLook = false }: { ending: string; withoutLook?: boolean },
): Promise<void> {
  const emergency = await findEmergency(work.tx, id);
  const open = await notYetRunning(work.tx, emergency);
  if (open.length > 0 && emergency.endedAt === null)
    throw new Refusal(
      `Not seen running yet: ${open.map(({ what, system }) => `${what} (${system.name})`).join(', ')}. Look at each, or say why it stays off.`,
      { status: 409, field: 'ending' },
    );
  const look = emergency.endedAt === null ? await lookToTake(work, id) : null;
  if (look !== null && !withoutLook)
    throw new Refusal(
      `A look is still to be taken, ${look <= work.now ? 'due since' : 'due'} ${await clockOf(work, emergency.siteId, look)}. Look first and tap Looked, or say that it ends without.`,
      { status: 409, field: 'withoutLook' },
    );
  const { count } = await work.tx.emergency.updateMany({
    where: { id, endedAt: null },
    data: { endedAt: work.now, endedById: work.accountId, ending },
  });
  if (count === 1) await askAfterwards(work, emergency);
  const kind = count === 1 ? 'emergency.ended' : 'emergency.sent_again';
  work.record(kind, { type: 'emergency', id }, { ending, ...(look === null ? {} : { lookLeftOut: look }) });
}

/** A moment as the farm's clock shows it. */
async function clockOf(work: Work, siteId: string, at: Date): Promise<string> {
  const { timeZone } = await work.tx.site.findUniqueOrThrow({ where: { id: siteId } });
  return whenWords(at, timeZone, work.now);
}

/** When the look on the morning after is due; own choice. */
const morning = '08:00';

/** Ends the look that was due, and asks for one an hour after the end and one on the next morning, as due work. */
async function askAfterwards(work: Work, { id, siteId, title }: EmergencyRow): Promise<void> {
  await endLook(work, lookKey(id));
  const { timeZone } = await work.tx.site.findUniqueOrThrow({ where: { id: siteId } });
  const { systemId, where } = await placeOf(work.tx, id);
  const tomorrow = addDays(localDay(work.now, timeZone), 1);
  const looks = [
    { at: 'hour', dueAt: new Date(work.now.getTime() + hourMs), words: 'An hour after' },
    { at: 'morning', dueAt: momentOf(tomorrow, morning, timeZone), words: 'The morning after' },
  ];
  for (const { at, dueAt, words } of looks)
    await askForLook(work, {
      ...{ systemId, key: `${lookKey(id)}:${at}`, dueAt, urgent: false, href: `/emergencies/${id}` },
      title: `${words}: ${lowerFirst(title)}${where}`,
      detail: 'does everything run that was off, does water move, are the animals as usual',
    });
}

const lowerFirst = (words: string) => (/^pH/.test(words) ? words : lowered(words));
