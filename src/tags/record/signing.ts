import canonicalize from 'canonicalize';
import { CompactSign, compactVerify, exportJWK, generateKeyPair, importJWK, type JWK } from 'jose';
import type { PrismaClient } from '../../generated/prisma/client.ts';
import { secretNamed } from '../../platform/secrets.ts';
import type { TagRecord } from './record.ts';

const algorithm = 'EdDSA';
const secretName = 'tag-signing-key';

/** The farm's signing key (Ed25519, RFC 8037), made when first asked for; one for all instances. */
async function signingKey(db: PrismaClient): Promise<JWK> {
  const text = await secretNamed(db, secretName, async () => {
    const { privateKey } = await generateKeyPair(algorithm, { crv: 'Ed25519', extractable: true });
    return JSON.stringify(await exportJWK(privateKey));
  });
  return JSON.parse(text) as JWK;
}

/** The public half, as anybody may have it to check a record. */
export async function publicKey(db: PrismaClient): Promise<JWK> {
  const { d: _private, ...shown } = await signingKey(db);
  return { ...shown, alg: algorithm, use: 'sig' };
}

/** The record as the one JSON text that stands for it (RFC 8785). */
export function canonicalText(record: TagRecord): string {
  const text = canonicalize(record);
  if (text === undefined) throw new Error('the record cannot be said in JSON');
  return text;
}

/** A JWS (RFC 7515, compact) over the record's text. */
export async function sign(db: PrismaClient, text: string): Promise<string> {
  const key = await importJWK(await signingKey(db), algorithm);
  return new CompactSign(new TextEncoder().encode(text)).setProtectedHeader({ alg: algorithm }).sign(key);
}

/** True when `text` is what the farm signed. */
export async function isUnchanged(db: PrismaClient, text: string, signature: string): Promise<boolean> {
  try {
    const key = await importJWK(await publicKey(db), algorithm);
    const { payload } = await compactVerify(signature, key);
    return new TextDecoder().decode(payload) === text;
  } catch {
    return false;
  }
}
