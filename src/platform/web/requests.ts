import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Role } from '../../generated/prisma/enums.ts';
import { hourMs, minuteMs } from '../../science/numeric/time.ts';
import { change, fingerprintOf, type Work } from '../change.ts';
import { isByDoor } from '../door/addresses.ts';
import { addDoor, sentBody } from '../door/hooks.ts';
import { notFound, Refusal } from '../refusal.ts';
import type { Service } from '../service.ts';
import { farmWords } from '../units/reader-words.ts';
import { inUnits, unitsFrom, unitsOf } from '../units/units.ts';
import { holdRoutesTo, isOpen, may, pageAccess, type RouteAccess } from './access.ts';
import { isDrawnAgain, isPageForm, type Kept, keepForm, lookThrough, pageBefore } from './kept-forms.ts';
import {
  bearerKey,
  type Machine,
  type MachineAdmission,
  type MachineSources,
  machineAdmission,
} from './machines.ts';
import { loadPageContext, type PageContext } from './page-context.ts';
import { isSessionKept } from './sessions.ts';
import { holdToSite, type SiteThings } from './site-bounds.ts';

declare module 'fastify' {
  interface FastifyRequest {
    pageContext: PageContext;
    /** The person who asks. On a route that is not public there always is one. */
    person: NonNullable<PageContext['person']>;
    site: NonNullable<PageContext['site']>;
    /** The instrument that asks with an access key; null where a person does. */
    machine: Machine | null;
    /** A form of somebody who is not signed in, or no longer: it is kept, and goes no further. */
    isToKeep: boolean;
    /** Makes one change in the name of the person, under the request's idempotency key if it has one. */
    change<T>(act: (work: Work) => Promise<T>): Promise<T>;
  }
  interface FastifyInstance {
    /** Who may open the page at an address; null where no route has it. */
    pageAccess(address: string): RouteAccess | null;
  }
  interface FastifyContextConfig {
    /** Who may ask for this route, by the table of all routes. */
    access?: RouteAccess;
    /** A post that others than the service's own pages make, and that harms nobody when forged. */
    withoutFormToken?: boolean;
    /** The same request twice changes nothing by itself, so that an instrument needs no Idempotency-Key for it. */
    repeatable?: boolean;
    /** What it changes is a whole file, which takes long. */
    ofAFile?: boolean;
    /** A public route that needs neither session nor surroundings (assets, health). */
    bare?: boolean;
  }
  interface Session {
    accountId?: string;
    /** The account's `sessionGeneration` at the sign-in. */
    generation?: number;
    /** When the session was last written for no other reason than to last longer. */
    renewedAt?: number;
    notice?: string;
    /** The site that the person looks at; without it the first. */
    siteId?: string;
    /** Where the last change is undone. */
    undo?: string;
    /** The enrolled tablet it is on, after how many idle minutes it ends, and when it was last used. */
    tablet?: { id: string; idleMin: number; usedAt: number };
  }
}

const forManagers = 'This page is for the manager or the owner. Ask one of them.';
const forReaders =
  'Your account may look at the farm and change nothing. Ask the manager or the owner to do this, or to give you another role.';

/** What the areas give to every request. */
export interface RequestSources extends MachineSources {
  /** Every route with who may ask for it: "GET /tags/:id" as it is registered. */
  routeAccess: Readonly<Record<string, RouteAccess>>;
  siteThings: SiteThings;
}

const keyShape = z.uuid();

function idempotencyKey(request: FastifyRequest): string | undefined {
  const body = (request.body ?? {}) as Record<string, unknown>;
  const sent = request.headers['idempotency-key'];
  // An empty key in the header is a program's mistake, which would let its repeats through.
  const key = sent ?? (body._key === '' ? undefined : body._key);
  if (key === undefined) return undefined;
  const parsed = keyShape.safeParse(key);
  if (!parsed.success) throw new Refusal('The idempotency key must be a UUID.', { status: 400 });
  return parsed.data;
}

function originOf(request: FastifyRequest) {
  const { _csrf, _key, _site, ...content } = (sentBody(request) ?? {}) as Record<string, unknown>;
  const accessKeyId = request.machine?.id ?? null;
  const fingerprint = fingerprintOf([
    request.method,
    request.url,
    content,
    ...(accessKeyId === null ? [] : [accessKeyId]),
  ]);
  const accountId = request.pageContext.person?.id ?? null;
  const { ofAFile = false } = request.routeOptions.config;
  return { accountId, accessKeyId, key: idempotencyKey(request), fingerprint, ofAFile };
}

/** The `:name` of an address as a UUID. @throws Refusal 404 when it is none */
export function pathId(request: FastifyRequest, name = 'id', what = 'This page'): string {
  const parsed = keyShape.safeParse((request.params as Record<string, string>)[name]);
  if (!parsed.success) throw notFound(what);
  return parsed.data;
}

/** Adds who asks to every request, and holds each route to its access. */
export function addRequests(app: FastifyInstance, service: Service, sources: RequestSources): void {
  holdRoutesTo(sources.routeAccess, app);
  app.decorate('pageAccess', pageAccess(sources.routeAccess));
  app.decorateRequest('pageContext');
  app.decorateRequest('person');
  app.decorateRequest('site');
  app.decorateRequest('machine', null);
  app.decorateRequest('isToKeep', false);
  app.decorateRequest('change', async function <T>(this: FastifyRequest, act: (work: Work) => Promise<T>) {
    if (isDrawnAgain(this)) throw lookThrough();
    let undoable: string | null = null;
    const keep = (changeId: string) => {
      undoable = changeId;
    };
    const origin = originOf(this);
    const result = await change(service, isPageForm(this) ? { ...origin, undoable: keep } : origin, act);
    if (undoable !== null) this.session.set('undo', `/undo/${undoable}`);
    return result;
  });
  const admit = machineAdmission(service, sources);
  app.addHook('onRequest', async (request, reply) => {
    // What is no route is told to nobody but who works here.
    const { access = 'reader', bare = false } = request.routeOptions.config;
    if (bare) return undefined;
    if (bearerKey(request) !== null) return admit(request, reply);
    await lookWhoAsks(service, sources, request);
    const { person, settled } = request.pageContext;
    if (person !== null) renewSession(request, service.now());
    if (isOpen(access)) return undefined;
    if (!settled) return reply.redirect('/welcome', 303);
    if (person === null) {
      // What was typed is only there once the body is read.
      request.isToKeep = isPageForm(request) && !request.is404;
      return request.isToKeep ? undefined : askToSignIn(request, reply);
    }
    return holdToRole(person.role, access);
  });
  app.addHook('preValidation', async (request, reply) =>
    request.isToKeep ? keepAndLead(service, request, reply) : undefined,
  );
  addSecondLook(app, service, sources, admit);
  addSiteBounds(app, service, sources.siteThings);
  addUnits(app);
  const isClosed = ({ routeOptions: { config, url } }: FastifyRequest) =>
    isOpen(config.access ?? 'reader') && !/^\/api(\/|$)/.test(url ?? '');
  addDoor(app, service, { originOf, isClosed });
}

/** Reads who asks, and where, into the request. */
async function lookWhoAsks(
  service: Service,
  sources: RequestSources,
  request: FastifyRequest,
): Promise<void> {
  const wanted = {
    accountId: request.session.get('accountId') ?? null,
    siteId: request.session.get('siteId') ?? null,
  };
  const context = await loadPageContext(service.pool, sources.pageContext, wanted, service.now());
  const hasEnded =
    context.person?.sessionGeneration !== request.session.get('generation') || isIdle(request, service.now());
  request.pageContext = hasEnded ? { ...context, person: null } : context;
  const { person, site } = request.pageContext;
  if (person !== null) request.person = person;
  if (site !== null) request.site = site;
}

/** @throws Refusal 403 where somebody of this role may not ask for it */
function holdToRole(role: Role, access: RouteAccess): void {
  if (!may(role, access)) throw new Refusal(role === 'reader' ? forReaders : forManagers, { status: 403 });
}

/**
 * Looks again who asks, once the whole of a write is there: a body can take minutes, and whoever was signed out
 * meanwhile, or may do less, writes nothing more.
 */
function addSecondLook(
  app: FastifyInstance,
  service: Service,
  sources: RequestSources,
  admit: MachineAdmission,
): void {
  app.addHook('preHandler', async (request, reply) => {
    const { access = 'reader' } = request.routeOptions.config;
    if (['GET', 'HEAD'].includes(request.method) || request.is404 || isOpen(access)) return undefined;
    if (request.machine !== null) return admit(request, null);
    const [lives] = await Promise.all([
      isSessionKept(service.pool, request.session.sessionId),
      lookWhoAsks(service, sources, request),
    ]);
    const { person } = request.pageContext;
    if (person !== null && lives) return holdToRole(person.role, access);
    request.pageContext = { ...request.pageContext, person: null };
    return isPageForm(request) ? keepAndLead(service, request, reply) : askToSignIn(request, reply);
  });
}

/** What the tablet's own screens ask for while they are open: in the units that they are drawn in. */
const ofScreens = /^\/api\/(rounds|emergencies|moves)\//;

/**
 * Has a page drawn in the units of whoever asks, and a form read in those it was drawn in. What programs ask for and
 * send, and forms without a word on units, are canonical.
 */
function addUnits(app: FastifyInstance): void {
  app.addHook('preHandler', (request, _reply, done) => {
    const { person = null, site = null } = request.pageContext ?? {};
    const drawnIn = (request.body as { _units?: unknown } | null | undefined)?._units;
    const isDrawn = request.method === 'GET' && (!wantsJson(request) || ofScreens.test(request.url));
    inUnits(isDrawn ? unitsOf(person?.units ?? {}, site?.units ?? {}) : unitsFrom(drawnIn), done);
  });
  // Pages have said them by now; programs have them in the units of the farm.
  app.addHook('onSend', async (_request, _reply, payload) =>
    typeof payload === 'string' ? farmWords(payload) : payload,
  );
}

/** Keeps whoever is let in to the things of the site that the pages are about. */
function addSiteBounds(app: FastifyInstance, service: Service, things: SiteThings): void {
  app.addHook('preHandler', async (request) => {
    const { access = 'reader' } = request.routeOptions.config;
    if (request.is404 || isOpen(access) || request.site.isOnlyOne) return;
    holdToFormsSite(request);
    await holdToSite(service.pool, things, request);
  });
}

/** A form that was drawn at one site is not taken at another, to which its person has gone since. @throws Refusal 409 */
function holdToFormsSite(request: FastifyRequest): void {
  const drawnAt = (request.body as { _site?: unknown } | null | undefined)?._site;
  if (typeof drawnAt !== 'string' || drawnAt === '' || drawnAt === request.site.id) return;
  throw new Refusal(
    `This form belongs to another site, and you are at ${request.site.name} now. Nothing was changed. Go back to its site, then open the form again.`,
    { status: 409 },
  );
}

/** The cookie of an enrolled tablet, from which people sign in by name and PIN. */
export const tabletCookie = 'evenwater-tablet';

/** How finely the use of a tablet is written down: a write takes longer than a page. */
const tabletUseMs = minuteMs / 2;

/** True for a session on a tablet that nobody has used for its set time. */
function isIdle(request: FastifyRequest, now: Date): boolean {
  const tablet = request.session.get('tablet');
  return tablet !== undefined && now.getTime() - tablet.usedAt > tablet.idleMin * minuteMs;
}

/** Lets a session that is used last on. It is written once an hour, not at each request: a write takes longer than a page. */
function renewSession(request: FastifyRequest, at: Date): void {
  const tablet = request.session.get('tablet');
  if (tablet !== undefined && at.getTime() - tablet.usedAt > tabletUseMs)
    request.session.set('tablet', { ...tablet, usedAt: at.getTime() });
  const now = Date.now();
  if (now - (request.session.get('renewedAt') ?? 0) > hourMs) request.session.set('renewedAt', now);
}

/** Keeps the form of somebody who is not signed in, and leads to the sign-in. */
async function keepAndLead(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { kept, id } = await keepForm(service.pool, request, reply, service.now());
  return leadToSignIn(request, reply, id === null ? pageBefore(request) : `/kept/${id}`, kept);
}

type Redirecting = { redirect(url: string, code: number): unknown };

function askToSignIn(request: FastifyRequest, reply: Redirecting) {
  if (wantsJson(request)) throw new Refusal('Sign in first.', { status: 401 });
  if (request.method === 'GET') return leadToSignIn(request, reply, request.url === '/' ? null : request.url);
  return leadToSignIn(request, reply, pageBefore(request), 'file');
}

/** Longer addresses are not led back to (own choice): with one, the answer's head is more than proxies take. */
const longestWayBack = 2000;

/** To the door of this device, which then leads to `to`, and says what became of a form. */
function leadToSignIn(request: FastifyRequest, reply: Redirecting, to: string | null, kept?: Kept) {
  const door = (request.cookies[tabletCookie] ?? '') === '' ? '/sign-in' : '/tablet';
  const query = new URLSearchParams({
    ...(to === null || to.length > longestWayBack ? {} : { to }),
    ...(kept === undefined ? {} : { kept }),
  }).toString();
  return reply.redirect(query === '' ? door : `${door}?${query}`, 303);
}

/** True when the answer should be JSON rather than a page. */
export function wantsJson(request: FastifyRequest): boolean {
  const accept = request.headers.accept ?? '';
  const sendsJson = (request.headers['content-type'] ?? '').startsWith('application/json');
  return (
    isByDoor(request) ||
    request.url.startsWith('/api/') ||
    sendsJson ||
    (accept.includes('json') && !accept.includes('text/html'))
  );
}
