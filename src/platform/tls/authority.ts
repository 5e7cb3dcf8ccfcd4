import 'reflect-metadata';
import { isIP } from 'node:net';
import * as x509 from '@peculiar/x509';

x509.cryptoProvider.set(crypto);

/** A certificate with the key that belongs to it, both as PEM. */
export interface Identity {
  certificate: string;
  key: string;
}

const algorithm = { name: 'ECDSA', namedCurve: 'P-256', hash: 'SHA-256' };
const dayMs = 86_400_000;
/** The authority is put on tablets by hand, so it lasts as long as they do (own choice). */
const authorityDays = 3650;
/** Tablets of one large maker refuse a certificate of one's own authority that is valid for longer than 825 days. */
const serverDays = 800;
/** A clock that runs behind must not find a certificate that begins tomorrow. */
const beginsBefore = dayMs;

async function pem(key: CryptoKey): Promise<string> {
  const bytes = Buffer.from(await crypto.subtle.exportKey('pkcs8', key));
  return x509.PemConverter.encode(bytes, 'PRIVATE KEY');
}

async function keyOf(text: string): Promise<CryptoKey> {
  const bytes = x509.PemConverter.decodeFirst(text);
  return crypto.subtle.importKey('pkcs8', bytes, algorithm, true, ['sign']);
}

const span = (now: Date, days: number) => ({
  notBefore: new Date(now.getTime() - beginsBefore),
  notAfter: new Date(now.getTime() + days * dayMs),
});

const serial = () =>
  Buffer.from(
    crypto.getRandomValues(new Uint8Array(16)).map((byte, n) => (n === 0 ? byte & 0x7f : byte)),
  ).toString('hex');

/** A certificate authority for one farm's own network (X.509, RFC 5280). */
export async function makeAuthority(farm: string, now: Date): Promise<Identity> {
  const keys = await crypto.subtle.generateKey(algorithm, true, ['sign', 'verify']);
  const certificate = await x509.X509CertificateGenerator.createSelfSigned({
    serialNumber: serial(),
    name: [{ CN: [`${farm}: own authority`] }],
    ...span(now, authorityDays),
    keys,
    signingAlgorithm: algorithm,
    extensions: [
      new x509.BasicConstraintsExtension(true, 0, true),
      new x509.KeyUsagesExtension(x509.KeyUsageFlags.keyCertSign | x509.KeyUsageFlags.cRLSign, true),
      await x509.SubjectKeyIdentifierExtension.create(keys.publicKey),
    ],
  });
  return { certificate: certificate.toString('pem'), key: await pem(keys.privateKey) };
}

/**
 * A certificate for the service, good for the names and addresses given.
 * @param names host names and IP addresses under which tablets open the service
 */
export async function issue(authority: Identity, names: readonly string[], now: Date): Promise<Identity> {
  const issuer = new x509.X509Certificate(authority.certificate);
  const keys = await crypto.subtle.generateKey(algorithm, true, ['sign', 'verify']);
  const certificate = await x509.X509CertificateGenerator.create({
    serialNumber: serial(),
    subject: [{ CN: [names[0] ?? 'localhost'] }],
    issuer: issuer.subject,
    ...span(now, serverDays),
    publicKey: keys.publicKey,
    signingKey: await keyOf(authority.key),
    signingAlgorithm: algorithm,
    extensions: [
      new x509.BasicConstraintsExtension(false, undefined, true),
      new x509.KeyUsagesExtension(x509.KeyUsageFlags.digitalSignature, true),
      new x509.ExtendedKeyUsageExtension([x509.ExtendedKeyUsage.serverAuth]),
      new x509.SubjectAlternativeNameExtension(
        names.map((value) => ({ type: isIP(value) === 0 ? 'dns' : 'ip', value }) as const),
      ),
      await x509.AuthorityKeyIdentifierExtension.create(issuer),
      await x509.SubjectKeyIdentifierExtension.create(keys.publicKey),
    ],
  });
  return { certificate: certificate.toString('pem'), key: await pem(keys.privateKey) };
}
