import { change } from '../platform/change.ts';
import { linkBase } from '../platform/link-base.ts';
import { composeLetter, sendLetter, Undelivered } from '../platform/mail.ts';
import type { Service } from '../platform/service.ts';
import { makeLink } from './links.ts';

/** The queue of links that were asked for. */
export const linkQueue = 'account-links';

/** A link that somebody asked for: for a forgotten password by its address, or to confirm a new address. */
export type LinkAsked = { forgotten: string } | { accountId: string; newEmail: string };

/**
 * Makes the link and sends it. Whether an address belongs to anybody is looked up here, after the answer: neither its
 * words nor its time tell.
 */
export async function sendAskedLink(service: Service, asked: LinkAsked): Promise<void> {
  const where = 'forgotten' in asked ? { email: asked.forgotten } : { id: asked.accountId };
  const account = await service.db.account.findUnique({ where });
  const isAddress = 'newEmail' in asked;
  const to = isAddress ? asked.newEmail : (account?.email ?? null);
  if (account === null || account.disabledAt !== null || to === null) return;
  const token = await change(service, { accountId: isAddress ? account.id : null }, async (work) => {
    const kind = isAddress ? 'account.address_asked' : 'account.link_made';
    work.record(kind, { type: 'account', id: account.id }, isAddress ? { email: asked.newEmail } : {});
    return makeLink(work.tx, account.id, isAddress ? asked.newEmail : null, work.now);
  });

  const base = linkBase(service.config);
  const now = service.now();
  const raw = await composeLetter(service.config, {
    to: { name: account.name, address: to },
    subject: isAddress ? 'Confirm your new e-mail address' : 'Set a new password',
    text: service.views
      .render(
        'people/link.txt',
        {
          name: account.name,
          isAddress,
          link: `${base}/${isAddress ? 'address' : 'password'}/${token}`,
          page: { title: '', now, timeZone: 'UTC' },
        },
        null,
      )
      .trim(),
    html: null,
    pictures: [],
    messageId: `<link-${crypto.randomUUID()}@${new URL(base).hostname}>`,
    date: now,
    list: null,
  });
  try {
    await sendLetter(service.config, to, raw);
  } catch (error) {
    if (!(error instanceof Undelivered) || !error.forGood) throw error;
    service.log.warn({ error: error.message }, 'The mail server refused a link for good.');
  }
}
