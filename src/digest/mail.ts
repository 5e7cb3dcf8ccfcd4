import juice from 'juice';
import { pngOf } from '../platform/charts/png.ts';
import { sparkline } from '../platform/charts/sparkline.ts';
import { linkBase } from '../platform/link-base.ts';
import { composeLetter, type LetterPicture } from '../platform/mail.ts';
import type { Service } from '../platform/service.ts';
import { daysBefore } from '../science/numeric/time.ts';
import type { DigestSystem } from './content.ts';
import type { SavedDigest } from './digests.ts';
import { digestText, digestView } from './text.ts';

/** Whom a digest is written to; `leave` is the address at which they stop it. */
export interface Addressee {
  name: string;
  email: string;
  leave: string;
}

/** The small line of a system's alkalinity over the last 30 days; '' where there are not two tests. */
export function trendPicture({ name, trend }: DigestSystem, to: Date): string {
  if (trend.length < 2) return '';
  const from = daysBefore(to, 30);
  const points = trend.map(({ at, value }) => ({ at: new Date(at), value }));
  return sparkline({ points, from, to, label: `Alkalinity of ${name} over the last 30 days` });
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
  const base = linkBase(service.config);
  const { content } = digest;
  const pictures = content.systems.flatMap((system): LetterPicture[] => {
    const svg = trendPicture(system, digest.madeAt);
    return svg === '' ? [] : [{ cid: `trend-${system.id}`, fileName: `${system.id}.png`, png: pngOf(svg) }];
  });
  const drawn = new Set(pictures.map(({ cid }) => cid));
  const systems = content.systems.map((system) => ({
    ...system,
    cid: drawn.has(`trend-${system.id}`) ? `trend-${system.id}` : '',
  }));
  const subject = `${content.site}: ${content.headline}`;
  const page = { title: subject, now: digest.madeAt, timeZone: site.timeZone };
  const data = { digest, ...digestView(digest), systems, page, base, leave: to.leave };
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
