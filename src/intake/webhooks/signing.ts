import { createHmac, randomBytes } from 'node:crypto';

// Signatures by the open specification Standard Webhooks (standardwebhooks.com, version 1.0.0, symmetric "v1").

const prefix = 'whsec_';

/** A new secret of 256 random bits, as a receiver takes it (the specification asks for 24 to 64 bytes). */
export const newSecret = (): string => `${prefix}${randomBytes(32).toString('base64')}`;

/** What is signed, and when it is sent. */
export interface Signed {
  id: string;
  at: Date;
  body: string;
}

/** Whole seconds since 1970, as the header has them. */
export const timestampOf = (at: Date): string => String(Math.floor(at.getTime() / 1000));

/** The value of the header webhook-signature: one signature for each secret, with spaces between. */
export function signatures({ id, at, body }: Signed, secrets: readonly string[]): string {
  const content = `${id}.${timestampOf(at)}.${body}`;
  return secrets
    .map((secret) => Buffer.from(secret.slice(prefix.length), 'base64'))
    .map((key) => `v1,${createHmac('sha256', key).update(content).digest('base64')}`)
    .join(' ');
}
