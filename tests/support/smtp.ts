import type { AddressInfo } from 'node:net';
import { type ParsedMail, simpleParser } from 'mailparser';
import { SMTPServer } from 'smtp-server';

/** A mail server that keeps what it takes, parsed back. */
export interface MailServer {
  url: string;
  taken: { to: string; mail: ParsedMail; raw: string }[];
  /** Answers RCPT TO with this code until told otherwise; null takes everything. */
  refuseWith(code: number | null): void;
  close(): Promise<void>;
}

/** Starts a mail server on a free port of this machine. */
export async function startMailServer(): Promise<MailServer> {
  const taken: MailServer['taken'] = [];
  let refusing: number | null = null;
  const server = new SMTPServer({
    disabledCommands: ['STARTTLS'],
    authOptional: true,
    onRcptTo(_address, _session, done) {
      if (refusing === null) return done();
      done(Object.assign(new Error('mailbox not here'), { responseCode: refusing }));
    },
    onData(stream, session, done) {
      const chunks: Buffer[] = [];
      stream.on('data', (chunk: Buffer) => chunks.push(chunk));
      stream.on('end', async () => {
        const raw = Buffer.concat(chunks);
        const to = session.envelope.rcptTo[0]?.address ?? '';
        taken.push({ to, mail: await simpleParser(raw), raw: raw.toString() });
        done();
      });
    },
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.server.address() as AddressInfo;
  return {
    url: `smtp://127.0.0.1:${port}`,
    taken,
    refuseWith: (code) => {
      refusing = code;
    },
    close: () => new Promise((resolve) => server.close(() => resolve())),
  };
}
