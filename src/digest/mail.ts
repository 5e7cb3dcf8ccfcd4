import { linkBase } from '../platform/link-base.ts';
import { composeLetter, type LetterPicture } from '../platform/mail.ts';
import type { Service } from '../platform/service.ts';
import type { SavedDigest } from './digests.ts';
import { cardsCaption, digestText, matterPicture, mattersOf, systemCards, workWords } from './text.ts';

/** Whom a digest is written to; `leave` is the address at which they stop it. */
export interface Addressee {
  name: string;
  email: string;
  leave: string;
}

/** The message's name: the same digest to the same receiver is the same message, however often it is composed. */
export function messageId(digest: SavedDigest, email: string, base: string): string {
  const who = Buffer.from(email).toString('base64url').slice(0, 24);
  const again = digest.version === 1 ? '' : `-${digest.version}`;
  return `<digest-${digest.day}-${digest.id}${again}-${who}@${new URL(base).hostname}>`;
}

/** The digest as a letter: text, html with its styles inlined, pictures as PNG, the headers of a list. */
export async function digestLetter(
  service: Service,
  site: { id: string; timeZone: string },
  digest: SavedDigest,
  to: Addressee,
): Promise<Buffer> {
  // What only letters need is read with the first one.
  const [{ default: juice }, { pngOf }] = await Promise.all([
    import('juice'),
    import('../platform/charts/png.ts'),
  ]);
  const base = linkBase(service.config);
  const { content } = digest;
  const matters = mattersOf(digest, site);
  const open = matters.open.map((matter) => ({
    ...matter,
    svg: matterPicture(matter),
    cid: `matter-${matter.id}`,
  }));
  const systems = systemCards(content, digest.madeAt).map((card) => ({ ...card, cid: `trend-${card.id}` }));
  const pictures = [...open, ...systems]
    .filter(({ svg }) => svg !== '')
    .map(({ cid, svg }): LetterPicture => ({ cid, fileName: `${cid}.png`, png: pngOf(svg) }));
  const subject = `${content.site}: ${content.headline}`;
  const page = { title: subject, now: digest.madeAt, timeZone: site.timeZone };
  const data = {
    digest,
    content,
    ...matters,
    open,
    systems,
    systemsCaption: cardsCaption(systems),
    workWords: workWords(content.work),
    page,
    base,
    leave: to.leave,
  };
  return composeLetter(service.config, {
    to: { name: to.name, address: to.email },
    subject,
    text: digestText(service, site, digest),
    html: juice(service.views.render('digest/mail', data, 'mail')),
    pictures,
    messageId: messageId(digest, to.email, base),
    date: digest.madeAt,
    list: {
      id: `digest.${site.id}.${new URL(base).hostname}`,
      name: `Morning digest of ${content.site}`.replaceAll('"', ''),
      leave: to.leave,
    },
  });
}
