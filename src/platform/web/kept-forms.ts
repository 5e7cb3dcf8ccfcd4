import { createCipheriv, createDecipheriv, randomBytes } from 'node:crypto';
import type { FastifyReply, FastifyRequest } from 'fastify';
import type pg from 'pg';
import { uuidv7 } from 'uuidv7';
import { hourMs } from '../../science/numeric/time.ts';
import { isByDoor } from '../door/addresses.ts';
import { Refusal } from '../refusal.ts';
import { addressWithin } from './back.ts';
import { takeTry, triesFrom } from './wrong-tries.ts';

// A form that comes after its session has ended is kept for an hour and comes back once its sender has signed in. What
// is kept is sealed with a key that only the sender's browser holds, in a cookie; the token in the form says whose it is.

/** A form as it was sent. */
export interface KeptForm {
  url: string;
  body: Record<string, string | string[]>;
  /** The page it was sent from; null where the browser does not say. */
  from: string | null;
}

/** What became of a form: kept, or not, and why. */
export type Kept = 'form' | 'file' | 'secret' | 'nothing';

const cookieName = 'evenwater-typed';
const lifeMs = hourMs;
/** Longer than any page's form, shorter than a file that is pasted whole (own choice). */
const longestBytes = 256 * 1024;

/** Marks a request that only has a form drawn as it was typed: it saves nothing, so anybody may send it. */
export const drawAgainHeader = 'x-draw-form-again';
/** Marks the answer to one that could not be drawn. */
export const notDrawnHeader = 'x-form-not-drawn';

export const isDrawnAgain = (request: FastifyRequest): boolean =>
  request.headers[drawAgainHeader] !== undefined;

/** Why nothing is saved when a kept form is drawn. */
export const lookThrough = (): Refusal =>
  new Refusal('You are signed in again. Look through what you typed before, then save it.');

/** The fields of forms that hold a secret: such a form is never kept. */
export const secretFields: readonly string[] = ['password', 'current', 'pin'];

/** True for a form as a page sends it: not a file, not what a program sends. */
export const isPageForm = (request: FastifyRequest): boolean =>
  request.method === 'POST' &&
  !isByDoor(request) &&
  (request.headers['content-type'] ?? '').startsWith('application/x-www-form-urlencoded') &&
  (request.headers.accept ?? '').includes('text/html');

/** The page that a request came from, where it is one of this service. */
export function pageBefore(request: FastifyRequest): string | null {
  const { referer = '' } = request.headers;
  if (!URL.canParse(referer)) return null;
  const { host, pathname, search } = new URL(referer);
  return host === request.host ? addressWithin(`${pathname}${search}`) : null;
}

const keyOf = (request: FastifyRequest): Buffer | null => {
  const { valid, value } = request.unsignCookie(request.cookies[cookieName] ?? '');
  const key = valid && value !== null ? Buffer.from(value, 'base64url') : null;
  return key?.length === 32 ? key : null;
};

/** The browser's key, which it gets here where it has none. */
function keyFor(request: FastifyRequest, reply: FastifyReply): Buffer {
  const key = keyOf(request) ?? randomBytes(32);
  reply.setCookie(cookieName, key.toString('base64url'), {
    path: '/',
    httpOnly: true,
    sameSite: 'lax',
    secure: 'auto',
    signed: true,
    maxAge: lifeMs / 1000,
  });
  return key;
}

/** AES-256-GCM: nonce (12 bytes), tag (16 bytes), text. */
function seal(key: Buffer, text: string): Uint8Array<ArrayBuffer> {
  const nonce = randomBytes(12);
  const cipher = createCipheriv('aes-256-gcm', key, nonce);
  const sealed = Buffer.concat([cipher.update(text, 'utf8'), cipher.final()]);
  return new Uint8Array(Buffer.concat([nonce, cipher.getAuthTag(), sealed]));
}

function unseal(key: Buffer, sealed: Buffer): string | null {
  const cipher = createDecipheriv('aes-256-gcm', key, sealed.subarray(0, 12));
  cipher.setAuthTag(sealed.subarray(12, 28));
  try {
    return Buffer.concat([cipher.update(sealed.subarray(28)), cipher.final()]).toString('utf8');
  } catch {
    return null;
  }
}

/**
 * Keeps a form that came without a session, for an hour.
 * @returns what was kept, and its id
 */
export async function keepForm(
  pool: pg.Pool,
  request: FastifyRequest,
  reply: FastifyReply,
  now: Date,
): Promise<{ kept: Kept; id: string | null }> {
  const body = (request.body ?? {}) as KeptForm['body'];
  if (secretFields.some((name) => (body[name] ?? '') !== '')) return { kept: 'secret', id: null };
  const text = JSON.stringify({ url: request.url, body, from: pageBefore(request) } satisfies KeptForm);
  if (typeof body._csrf !== 'string' || Buffer.byteLength(text) > longestBytes)
    return { kept: 'nothing', id: null };
  try {
    await takeTry(pool, triesFrom('keptForm', request.ip), now);
  } catch (error) {
    if (error instanceof Refusal) return { kept: 'nothing', id: null };
    throw error;
  }
  const id = uuidv7();
  await pool.query(
    `WITH run_out AS (DELETE FROM kept_form WHERE expires_at < $4)
     INSERT INTO kept_form (id, sealed, expires_at) VALUES ($1, $2, $3)`,
    [id, seal(keyFor(request, reply), text), new Date(now.getTime() + lifeMs), now],
  );
  return { kept: 'form', id };
}

/** The form that this browser sent; null where it has run out, or came from another browser. */
export async function keptForm(
  pool: pg.Pool,
  request: FastifyRequest,
  id: string,
  now: Date,
): Promise<KeptForm | null> {
  const key = keyOf(request);
  if (key === null) return null;
  const { rows } = await pool.query<{ sealed: Buffer }>(
    'SELECT sealed FROM kept_form WHERE id = $1 AND expires_at > $2',
    [id, now],
  );
  const text = rows[0] === undefined ? null : unseal(key, rows[0].sealed);
  return text === null ? null : (JSON.parse(text) as KeptForm);
}
