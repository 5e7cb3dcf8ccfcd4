import { randomUUID, timingSafeEqual } from 'node:crypto';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { notFound, Refusal } from '../refusal.ts';
import type { Service } from '../service.ts';
import { doorPath, isByDoor } from './addresses.ts';
import { etagOf, hashOf, isAny, isUnchangedFor, readAddresses, tagsOf } from './etags.ts';
import { readAt } from './moments.ts';
import { answerBefore, keepAnswer } from './replays.ts';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Its answer holds a secret that is shown once: it is not kept for repeats. */
    withSecret?: boolean;
  }
}

/** What a request's idempotency key stands for. */
interface Origin {
  accountId: string | null;
  key?: string | undefined;
  fingerprint: string;
}

const isRead = ({ method }: FastifyRequest) => method === 'GET' || method === 'HEAD';

/** Bodies as they were sent, of writes to which was added what If-Match says. */
const sentBodies = new WeakMap<FastifyRequest, unknown>();

/** The body of a request as it was sent. */
export const sentBody = (request: FastifyRequest): unknown => sentBodies.get(request) ?? request.body;

/** Marks the service's own question for what a write's If-Match is compared with; nobody else knows its value. */
const withinHeader = 'x-asked-within';
const within = randomUUID();
/** By the clock of which moment it asks itself, ms since 1970. */
const momentHeader = 'x-asked-by-the-clock-of';

/** True where the service asks itself: it is counted to nobody's limit. */
export const isAskedWithin = ({ headers }: FastifyRequest): boolean => {
  const sent = Buffer.from(String(headers[withinHeader] ?? ''));
  return sent.length === within.length && timingSafeEqual(sent, Buffer.from(within));
};

/** When each answer was read. */
const moments = new WeakMap<FastifyRequest, Date>();

function momentOf(request: FastifyRequest, now: Date): Date {
  const asked = isAskedWithin(request) ? Number(request.headers[momentHeader]) : Number.NaN;
  return Number.isFinite(asked) ? new Date(asked) : now;
}

/**
 * What all routes have when they are asked under `/api/v1`: entity tags, If-None-Match and If-Match, answers to repeats,
 * JSON where a page would lead on.
 * @param isClosed routes that are no part of it: signing in, the buyer's pages
 */
export function addDoor(
  app: FastifyInstance,
  service: Service,
  {
    originOf,
    isClosed,
  }: { originOf(request: FastifyRequest): Origin; isClosed(request: FastifyRequest): boolean },
): void {
  app.addHook('onRequest', async (request) => {
    if (!isByDoor(request) || request.is404) return;
    if (isClosed(request)) throw notFound('This address');
    // One tag stands for one row of bytes: what has a tag is not packed (RFC 9110, 8.8.3.3).
    if (isRead(request)) request.headers['x-no-compression'] = 'yes';
    // No route takes plain text: read all the same, each of its fields would be said to be missing.
    else if (/^\s*text\/plain\b/i.test(request.headers['content-type'] ?? ''))
      throw new Refusal('Send JSON, with the header “Content-Type: application/json”.', { status: 415 });
  });
  app.addHook('preHandler', async (request, reply) => {
    if (!isByDoor(request) || request.is404 || isRead(request)) return undefined;
    const { key, accountId, fingerprint } = originOf(request);
    if (key !== undefined) {
      const before = await answerBefore(service.pool, { key, accountId, fingerprint });
      if (before !== null)
        return reply
          .status(before.status)
          .headers({ 'idempotency-replayed': 'true', 'content-type': 'application/json; charset=utf-8' })
          .send(before.body);
    }
    const match = request.headers['if-match'];
    return match === undefined ? undefined : holdToMatch(app, request, match);
  });
  app.addHook('preHandler', (request, _reply, done) => {
    if (!isByDoor(request) || request.is404 || !isRead(request)) return done();
    const moment = momentOf(request, service.now());
    moments.set(request, moment);
    readAt(moment, done);
  });
  app.addHook('onSend', async (request, reply, payload) => {
    if (!isByDoor(request)) return payload;
    if (reply.statusCode === 303) return ledOn(reply);
    return isRead(request)
      ? tagged(request, reply, payload)
      : kept(service, originOf, request, reply, payload);
  });
}

/** Where a page would lead, as JSON. */
function ledOn(reply: FastifyReply): string {
  const page = String(reply.getHeader('location') ?? '/');
  reply.removeHeader('location');
  reply.status(200).type('application/json; charset=utf-8');
  const body = JSON.stringify({ id: null, code: null, page, notice: null });
  reply.header('content-length', Buffer.byteLength(body));
  return body;
}

function tagged(request: FastifyRequest, reply: FastifyReply, payload: unknown): unknown {
  const isJson = String(reply.getHeader('content-type') ?? '').startsWith('application/json');
  if (reply.statusCode !== 200 || !isJson || typeof payload !== 'string') return payload;
  const moment = moments.get(request);
  if (moment === undefined) return payload;
  const tag = { hash: hashOf(payload), moment };
  // It is asked for anew each time, and not sent again where it is the same.
  reply.headers({ etag: etagOf(tag), 'cache-control': 'private, no-cache' });
  const known = request.headers['if-none-match'];
  if (known === undefined || !isUnchangedFor(known, tag)) return payload;
  reply.status(304).removeHeader('content-length');
  return '';
}

async function kept(
  service: Service,
  originOf: (request: FastifyRequest) => Origin,
  request: FastifyRequest,
  reply: FastifyReply,
  payload: unknown,
): Promise<unknown> {
  const { statusCode } = reply;
  const isNew = reply.getHeader('idempotency-replayed') === undefined;
  const isTaken = statusCode >= 200 && statusCode < 300 && typeof payload === 'string';
  if (!isNew || !isTaken || request.routeOptions.config.withSecret === true) return payload;
  const { key } = originOf(request);
  if (key !== undefined) await keepAnswer(service.pool, key, { status: statusCode, body: payload });
  return payload;
}

/**
 * Holds a write to what its sender has read, and adds the version of that where the body says none, so that the change
 * itself is held to it. @throws Refusal 412 where it is something else now; 400 where it is read nowhere
 */
async function holdToMatch(app: FastifyInstance, request: FastifyRequest, match: string): Promise<void> {
  const [first, ...others] = tagsOf(match);
  for (const path of readAddresses(request.url.split('?')[0] ?? '')) {
    const read = await readAgain(app, request, path, first?.moment);
    if (read === null) continue;
    if (isAny(match) || hashOf(read) === first?.hash) return addRead(request, JSON.parse(read) as object);
    for (const { hash, moment } of others) {
      const then = await readAgain(app, request, path, moment);
      if (then !== null && hashOf(then) === hash) return addRead(request, JSON.parse(then) as object);
    }
    throw new Refusal(
      'It was changed since you read it (If-Match names another state). Read it again, then decide. Nothing was changed.',
      { status: 412 },
    );
  }
  throw new Refusal('If-Match cannot be compared here: what this changes is read at no address of its own.', {
    status: 400,
  });
}

/**
 * Reads what a write would change, as its sender may read it, by the clock of a moment where one is given.
 * @returns the answer's words; null where nothing is read there
 */
async function readAgain(
  app: FastifyInstance,
  { headers: { authorization, cookie }, ip }: FastifyRequest,
  path: string,
  moment?: Date,
): Promise<string | null> {
  const headers = {
    accept: 'application/json',
    [withinHeader]: within,
    ...(moment === undefined ? {} : { [momentHeader]: String(moment.getTime()) }),
    ...(authorization === undefined ? {} : { authorization }),
    ...(cookie === undefined ? {} : { cookie }),
  };
  const url = `${doorPath}${path.replace(/^\/api(?=\/)/, '')}`;
  const answer = await app.inject({ method: 'GET', url, headers, remoteAddress: ip });
  return answer.statusCode === 200 && answer.headers.etag !== undefined ? answer.body : null;
}

/** The version, or the signs, of what was read, for a body that says none. */
function addRead(request: FastifyRequest, read: { version?: unknown; seen?: unknown }): void {
  if (typeof request.body !== 'object' && request.body !== undefined) return;
  sentBodies.set(request, request.body ?? {});
  const known = Object.fromEntries(
    Object.entries({ version: read.version, seen: read.seen }).filter(
      ([, value]) => value !== undefined && value !== null,
    ),
  );
  request.body = { ...known, ...(request.body as object | null | undefined) };
}
