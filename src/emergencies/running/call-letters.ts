import { listOnCall } from '../../farm/contacts/contacts.ts';
import { managersOf } from '../../people/memberships.ts';
import { linkBase } from '../../platform/link-base.ts';
import { composeLetter, sendLetter, Undelivered } from '../../platform/mail.ts';
import type { Service } from '../../platform/service.ts';

/** The queue of calls that want a letter. */
export const callLetterQueue = 'emergency-call';

/**
 * Writes to whoever was called, where the list has an address. A mail server that is away is tried again by the job.
 * Without a mail server nothing goes out: the page says so.
 */
export async function sendCall(service: Service, entryId: string): Promise<void> {
  if (service.config.SMTP_URL === undefined) return;
  const entry = await service.db.emergencyEntry.findUniqueOrThrow({
    where: { id: entryId },
    include: { emergency: { include: { site: true, systems: { include: { system: true } } } } },
  });
  const { emergency } = entry;
  const called = await receiversOf(service, emergency.siteId, entry.contactId);
  const where = emergency.systems.map(({ system }) => system.name).join(', ');
  const base = linkBase(service.config);
  const { timeZone } = emergency.site;
  const data = {
    page: { title: emergency.title, now: entry.at, timeZone },
    emergency,
    where,
    link: `${base}/emergencies/${emergency.id}`,
  };
  for (const { id, name, email } of called) {
    const raw = await composeLetter(service.config, {
      to: { name, address: email },
      subject: `Wrong now: ${emergency.title} (${where})`,
      text: service.views.render('emergencies/call.txt', { ...data, name }, null).trim(),
      html: null,
      pictures: [],
      messageId: `<call-${entry.id}-${id}@${new URL(base).hostname}>`,
      date: entry.at,
      list: null,
    });
    await handOver(service, email, raw);
  }
}

/** Those on call with an address, of one call the one who was called; the managers where nobody is on call. */
async function receiversOf({ db }: Service, siteId: string, contactId: string | null) {
  const all = await listOnCall(db, siteId);
  if (all.length === 0 && contactId === null) return managersOf(db, siteId);
  return all.filter(({ id, email }) => email !== '' && [null, id].includes(contactId));
}

async function handOver(service: Service, email: string, raw: Buffer): Promise<void> {
  try {
    await sendLetter(service.config, email, raw);
  } catch (error) {
    // What the server refuses for good is in the log, and the next one is called all the same.
    if (!(error instanceof Undelivered) || !error.forGood) throw error;
    service.log.warn({ email, error: error.message }, 'The mail server refused a call for good.');
  }
}
