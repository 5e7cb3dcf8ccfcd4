import canonicalize from 'canonicalize';
import type { JWK } from 'jose';
import type { PrismaClient } from '../../generated/prisma/client.ts';
import { secretNamed } from '../../platform/secrets.ts';
import type { TagRecord } from './record.ts';

/** The library of signatures, read with the first tag. */
const library = () => import('jose');

const algorithm = 'EdDSA';
const secretName = 'tag-signing-key';

/** The farm's signing key (Ed25519, RFC 8037), made when first asked for; one for all instances. */
async function signingKey(db: PrismaClient): Promise<JWK> {
  const text = await secretNamed(db, secretName, async () => {
    const { exportJWK, generateKeyPair } = await library();
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
  const { CompactSign, importJWK } = await library();
  const key = await importJWK(await signingKey(db), algorithm);
  return new CompactSign(new TextEncoder().encode(text)).setProtectedHeader({ alg: algorithm }).sign(key);
}

/** The public halves of other installations' keys, whose tags came here with their farm. */
async function keysFromElsewhere(db: PrismaClient): Promise<JWK[]> {
  const keys = await db.tagKey.findMany({ orderBy: { key: 'asc' } });
  return keys.map(({ key }) => ({ kty: 'OKP', crv: 'Ed25519', x: key, alg: algorithm, use: 'sig' }));
}

/** Every public key that a tag of this farm may be signed with, its own first. */
export async function publicKeys(db: PrismaClient): Promise<JWK[]> {
  return [await publicKey(db), ...(await keysFromElsewhere(db))];
}

async function isSignedWith(jwk: JWK, text: string, signature: string): Promise<boolean> {
  try {
    const { compactVerify, importJWK } = await library();
    const { payload } = await compactVerify(signature, await importJWK(jwk, algorithm));
    return new TextDecoder().decode(payload) === text;
  } catch {
    return false;
  }
}

/** True when `text` is what the farm signed, here or in another installation that it came from. */
export async function isUnchanged(db: PrismaClient, text: string, signature: string): Promise<boolean> {
  if (await isSignedWith(await publicKey(db), text, signature)) return true;
  for (const jwk of await keysFromElsewhere(db)) if (await isSignedWith(jwk, text, signature)) return true;
  return false;
}

/** This installation's public key (base64url) where a tag is signed with it; without such a tag nobody needs it. */
export async function ownTagKeys(db: PrismaClient): Promise<string[]> {
  const own = await publicKey(db);
  for await (const { record, signature } of everyTag(db))
    if (await isSignedWith(own, record, signature)) return [own.x ?? ''];
  return [];
}

/** Tags are read in pieces of this many. */
const pieceOf = 200;

/** Every tag with what was signed, in pieces. */
export async function* everyTag(
  db: PrismaClient,
): AsyncGenerator<{ id: string; record: string; signature: string }> {
  for (let after: string | undefined; ; ) {
    const tags: { id: string; record: string; signature: string }[] = await db.tag.findMany({
      select: { id: true, record: true, signature: true },
      orderBy: { id: 'desc' },
      take: pieceOf,
      ...(after === undefined ? {} : { cursor: { id: after }, skip: 1 }),
    });
    yield* tags;
    after = tags.at(-1)?.id;
    if (tags.length < pieceOf) return;
  }
}
