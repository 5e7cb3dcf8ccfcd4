import type { Config } from './config.ts';

/** The library of mail, read with the first letter. */
const library = () => import('nodemailer');

/** A picture within a letter, named there by its cid. */
export interface LetterPicture {
  cid: string;
  fileName: string;
  png: Buffer;
}

/** A letter before it is put into the form that mail servers take. */
export interface Letter {
  to: { name: string; address: string };
  subject: string;
  text: string;
  /** Null: text alone. */
  html: string | null;
  pictures: readonly LetterPicture[];
  /** "<...@...>": the same letter sent twice is then one in most mail programs. */
  messageId: string;
  date: Date;
  /** What it is one of a series of (RFC 2919), and where to leave it (RFC 2369, RFC 8058); null: of none. */
  list: { id: string; name: string; leave: string } | null;
}

/** Why a letter did not go, and whether trying again can help. */
export class Undelivered extends Error {
  readonly forGood: boolean;

  constructor(message: string, forGood: boolean) {
    super(message);
    this.name = 'Undelivered';
    this.forGood = forGood;
  }
}

const oneClick = { 'List-Unsubscribe-Post': 'List-Unsubscribe=One-Click' };

const listHeaders = ({ id, name, leave }: NonNullable<Letter['list']>) => ({
  id: { url: id, comment: name },
  unsubscribe: { url: leave },
});

/** The letter as it travels (RFC 5322, MIME): what is kept, and what an .eml file holds. */
export async function composeLetter(config: Pick<Config, 'MAIL_FROM'>, letter: Letter): Promise<Buffer> {
  const { createTransport } = await library();
  const writer = createTransport({ streamTransport: true, buffer: true, newline: 'crlf' });
  const { message } = await writer.sendMail({
    from: config.MAIL_FROM,
    to: letter.to,
    subject: letter.subject,
    text: letter.text,
    ...(letter.html === null ? {} : { html: letter.html }),
    messageId: letter.messageId,
    date: letter.date,
    headers: { 'Auto-Submitted': 'auto-generated', ...(letter.list === null ? {} : oneClick) },
    ...(letter.list === null ? {} : { list: listHeaders(letter.list) }),
    attachments: letter.pictures.map(({ cid, fileName, png }) => ({
      cid,
      filename: fileName,
      content: png,
      contentType: 'image/png',
      contentDisposition: 'inline' as const,
    })),
  });
  return Buffer.from(message as Buffer);
}

const patienceMs = 10_000;

/**
 * Hands a composed letter to the mail server.
 * @throws Undelivered with what the server said; for good when it refused the address or the letter (5xx)
 */
export async function sendLetter(
  config: Pick<Config, 'SMTP_URL' | 'SMTP_PASSWORD' | 'MAIL_FROM'>,
  to: string,
  raw: Buffer,
): Promise<void> {
  if (config.SMTP_URL === undefined) throw new Undelivered('no mail server is set', false);
  const { createTransport } = await library();
  const url = new URL(config.SMTP_URL);
  if (config.SMTP_PASSWORD !== undefined) url.password = encodeURIComponent(config.SMTP_PASSWORD);
  const waiting = { connectionTimeout: patienceMs, greetingTimeout: patienceMs, socketTimeout: patienceMs };
  const server = createTransport({ url: url.href, ...waiting });
  try {
    await server.sendMail({ envelope: { from: addressOf(config.MAIL_FROM), to }, raw });
  } catch (error) {
    const { responseCode, message } = error as Error & { responseCode?: number };
    throw new Undelivered(message, responseCode !== undefined && responseCode >= 500);
  } finally {
    server.close();
  }
}

/** "evenwater@example.org" out of "Evenwater <evenwater@example.org>". */
const addressOf = (from: string) => /<([^>]+)>/.exec(from)?.[1] ?? from;
