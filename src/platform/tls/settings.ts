import { createPrivateKey, X509Certificate } from 'node:crypto';
import { readFileSync } from 'node:fs';
import type { Config } from '../config.ts';

/** What the web server needs for HTTPS. */
export interface Tls {
  cert: string;
  key: string;
  notAfter: Date;
}

function textOf(setting: string, path: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch (error) {
    throw new Error(`${setting}: ${path} cannot be read (${(error as Error).message}).`);
  }
}

/**
 * Reads certificate and key where both are set; null where neither is: the service then speaks plain HTTP.
 * @throws Error naming the setting, where one is missing, unreadable, run out, or the two do not belong together
 */
export function readTls(
  { TLS_CERTIFICATE, TLS_KEY }: Pick<Config, 'TLS_CERTIFICATE' | 'TLS_KEY'>,
  now: Date,
): Tls | null {
  if (TLS_CERTIFICATE === undefined && TLS_KEY === undefined) return null;
  if (TLS_CERTIFICATE === undefined || TLS_KEY === undefined)
    throw new Error('HTTPS needs two settings: TLS_CERTIFICATE and TLS_KEY. Set both, or neither.');
  const [cert, key] = [textOf('TLS_CERTIFICATE', TLS_CERTIFICATE), textOf('TLS_KEY', TLS_KEY)];
  let certificate: X509Certificate;
  try {
    certificate = new X509Certificate(cert);
  } catch {
    throw new Error(`TLS_CERTIFICATE: ${TLS_CERTIFICATE} is not a certificate in PEM form.`);
  }
  let belongs: boolean;
  try {
    belongs = certificate.checkPrivateKey(createPrivateKey(key));
  } catch {
    throw new Error(`TLS_KEY: ${TLS_KEY} is not a private key in PEM form.`);
  }
  if (!belongs) throw new Error('TLS_KEY is not the key of TLS_CERTIFICATE.');
  const notAfter = new Date(certificate.validTo);
  if (notAfter <= now)
    throw new Error(
      `TLS_CERTIFICATE ran out on ${notAfter.toISOString().slice(0, 10)}. Make a new one (npm run certificate), or set another.`,
    );
  return { cert, key, notAfter };
}
