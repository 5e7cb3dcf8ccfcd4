import { parse } from 'node:querystring';
import fastifyCookie from '@fastify/cookie';
import fastifyCsrf from '@fastify/csrf-protection';
import fastifyHelmet from '@fastify/helmet';
import fastifySession from '@fastify/session';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { dayMs } from '../../science/numeric/time.ts';
import { Refusal } from '../refusal.ts';
import { secretNamed } from '../secrets.ts';
import type { Service } from '../service.ts';
import { cleanTexts } from './clean-text.ts';
import { sessionDays, sessionStore } from './sessions.ts';

const safe = new Set(['GET', 'HEAD', 'OPTIONS']);

/** The page's own token, from a form's hidden field or a header. */
function tokenOf(request: FastifyRequest): string | undefined {
  const header = request.headers['x-csrf-token'];
  if (typeof header === 'string') return header;
  return (request.body as { _csrf?: string } | undefined)?._csrf;
}

/** Whom a form's token belongs to: a token drawn for one account is worth nothing to another. */
export const formUser = (request: FastifyRequest): string => request.session.get('accountId') ?? 'nobody';

/** What a page may load and run: the service's own files, and no script or style within a page. */
export const contentPolicy = {
  defaultSrc: ["'self'"],
  scriptSrc: ["'self'"],
  // No style stands in a page: what is drawn says its looks by class, or by attributes of svg.
  styleSrc: ["'self'"],
  objectSrc: ["'none'"],
  baseUri: ["'none'"],
  fontSrc: ["'self'"],
  imgSrc: ["'self'", 'data:', 'blob:'],
  formAction: ["'self'"],
  frameAncestors: ["'none'"],
  upgradeInsecureRequests: null,
};

/** More than any page sends: a form that ticks every lot of a farm (own choice). What is done to each takes time. */
const mostFields = 20_000;

/** Reads a form's body: a name that comes several times is a list. Gives a Refusal 413 where it has too many fields. */
function readForm(body: string, done: (error: Error | null, form?: unknown) => void): void {
  let fields = 1;
  for (let at = body.indexOf('&'); at !== -1; at = body.indexOf('&', at + 1)) fields += 1;
  if (fields > mostFields)
    done(new Refusal('That form has too many fields. Send it in parts.', { status: 413 }));
  else done(null, parse(body, '&', '=', { maxKeys: 0 }));
}

/** A name or an address with a port, or nothing (RFC 9110, 7.2; RFC 3986, 3.2.2), without the marks that no host has. */
const hostForm = /^(\[[\da-f:.]+\]|[\w.~%-]*)(:\d*)?$/i;

/** @throws Refusal 400 for more than one Host, or one that can be none: a proxy may have read another (RFC 9112, 3.2) */
function checkHost(request: FastifyRequest): void {
  const { rawHeaders } = request.raw;
  const hosts = rawHeaders.filter((_, at) => at % 2 === 1 && rawHeaders[at - 1]?.toLowerCase() === 'host');
  if (hosts.length > 1 || !hosts.every((host) => hostForm.test(host)))
    throw new Refusal('That request does not say clearly which host it is for.', { status: 400 });
}

/** Security headers, sessions, protection against forged posts. */
export async function addGuards(app: FastifyInstance, service: Service): Promise<void> {
  await app.register(fastifyHelmet, {
    contentSecurityPolicy: {
      directives: contentPolicy,
    },
    hsts: false,
    // The page before is where somebody comes back to (`pageBefore`); other hosts are told nothing.
    referrerPolicy: { policy: 'same-origin' },
  });
  app.addHook('onRequest', async (request) => checkHost(request));
  await app.register(fastifyCookie, { secret: await secretNamed(service.db, 'cookies') });
  // What needs no session is answered without asking the database for it: the style of the page that says it is away.
  app.addHook('onRequest', async (request) => {
    if (request.routeOptions.config.bare === true) request.cookies = {};
  });
  await app.register(fastifySession, {
    secret: await secretNamed(service.db, 'session'),
    cookieName: 'evenwater',
    cookie: { path: '/', httpOnly: true, sameSite: 'lax', secure: 'auto', maxAge: sessionDays * dayMs },
    rolling: false,
    saveUninitialized: false,
    store: sessionStore(service),
  });
  const whole = { parseAs: 'string' } as const;
  app.addContentTypeParser('application/x-www-form-urlencoded', whole, (_request, body, done) =>
    readForm(String(body), done),
  );
  // The secret of the forms' tokens is a cookie of its own, so that a stranger who looks at a form leaves no session.
  await app.register(fastifyCsrf, {
    sessionPlugin: '@fastify/cookie',
    cookieKey: 'evenwater-forms',
    cookieOpts: { path: '/', httpOnly: true, sameSite: 'lax', secure: 'auto', signed: true },
    csrfOpts: { hmacKey: await secretNamed(service.db, 'forms') },
    getUserInfo: formUser,
    getToken: tokenOf,
  });
  app.addHook('onSend', async (request, reply) => {
    const type = String(reply.getHeader('content-type') ?? '');
    if (type.includes('json') && reply.getHeader('cache-control') === undefined)
      reply.header('cache-control', 'no-store');
    if (request.protocol === 'https') reply.header('strict-transport-security', 'max-age=15552000');
  });
  app.addHook('preValidation', async (request) => {
    request.body = cleanTexts(request.body);
    request.query = cleanTexts(request.query);
    request.params = cleanTexts(request.params);
  });
  app.addHook('preHandler', (request, reply, done) => {
    // A key is sent on purpose each time; only what a browser sends by itself can be forged.
    if (safe.has(request.method) || request.is404 || request.machine) return done();
    if (request.routeOptions.config.withoutFormToken === true) return done();
    app.csrfProtection(request, reply, done);
  });
}
