import type { FastifyReply, FastifyRequest } from 'fastify';
import type pg from 'pg';
import { isByDoor } from '../door/addresses.ts';
import { isAskedWithin } from '../door/hooks.ts';
import { countRequest, rateHeaders } from '../door/rates.ts';
import { Gatherers } from '../gather.ts';
import { notFound, Refusal } from '../refusal.ts';
import type { Service } from '../service.ts';
import { may } from './access.ts';
import { loadPageContext, type PageContext, type PageContextColumns } from './page-context.ts';
import { takeTry, triesFrom } from './wrong-tries.ts';

/** A program with an access key. */
export interface Machine {
  id: string;
  name: string;
  /** The site of what it posts and reads (null: the first). */
  siteId: string | null;
  /** Whose key it is: it opens nothing that this person may not. */
  accountId: string | null;
  scopes: readonly string[];
  /** How many requests a minute it may make. */
  perMinute: number;
}

/** What the areas say of keys. */
export interface MachineSources {
  pageContext: PageContextColumns;
  /** Who holds an access key; null when it is unknown, has run out or was ended. */
  keyHolder(pool: pg.Pool, key: string, now: Date): Promise<Machine | null>;
  /** The scope that a key needs for a route, by its name ("POST /water/kits"); null where no key opens it. */
  keyScope(route: string): string | null;
}

/** The access key of a request (`Authorization: Bearer ...`), or null where it sends none. */
export function bearerKey({ headers }: FastifyRequest): string | null {
  return /^Bearer\s+(\S+)$/i.exec(headers.authorization ?? '')?.[1] ?? null;
}

/** A key with who stands behind it, and where, as both are now. */
interface Holder {
  machine: Machine;
  context: PageContext;
}

/** Lets programs in by their keys; `reply` is null where it is looked at for the second time. */
export type MachineAdmission = (request: FastifyRequest, reply: FastifyReply | null) => Promise<void>;

/**
 * How programs are let in. A key is looked up for every request; requests of one key that come at the same time share a
 * look-up that begins after the last of them came, so that none is answered by what was so before.
 */
export function machineAdmission(service: Service, sources: MachineSources): MachineAdmission {
  const lookUps = new Gatherers<string, Holder | null>({
    together: async (secrets) => {
      const found = await findHolder(service, sources, secrets[0] ?? '');
      return secrets.map(() => found);
    },
    size: () => 1,
    most: Number.POSITIVE_INFINITY,
    waitMs: 0,
  });
  return (request, reply) =>
    admitMachine(service, sources, (secret) => lookUps.do(secret, secret), request, reply);
}

async function findHolder(service: Service, sources: MachineSources, secret: string): Promise<Holder | null> {
  const machine = await sources.keyHolder(service.pool, secret, service.now());
  if (machine === null) return null;
  const asked = { accountId: machine.accountId, siteId: machine.siteId };
  const context = await loadPageContext(service.pool, sources.pageContext, asked, service.now());
  return { machine, context };
}

/** True where a route takes what instruments measure, whoever posts it: its entries are the key's own, and no person's. */
const isInstruments = (request: FastifyRequest) => request.routeOptions.config.access === 'hand or key';

/**
 * Lets a program in, where its key has the scope of the route, its owner may ask for it, and each of its writes can be told
 * from a repeat. @throws Refusal 401, 403, 404, 429
 */
async function admitMachine(
  service: Service,
  sources: MachineSources,
  lookUp: (secret: string) => Promise<Holder | null>,
  request: FastifyRequest,
  reply: FastifyReply | null,
): Promise<void> {
  const holder = await lookUp(bearerKey(request) ?? '');
  request.machine = holder?.machine ?? null;
  if (holder === null) {
    await takeTry(service.pool, triesFrom('secret', request.ip), service.now());
    throw new Refusal('This access key is not known, or no longer. Ask the owner for a new one.', {
      status: 401,
    });
  }
  const { machine, context } = holder;
  if (reply !== null && !isAskedWithin(request)) holdToRate(machine, reply, service.now());
  holdToScope(machine, sources, request);
  if (context.site === null) throw new Refusal('The farm is not set up yet.', { status: 409 });
  const { access = 'reader' } = request.routeOptions.config;
  if (!may(context.person?.role ?? null, access))
    throw new Refusal('The person whose access key this is may not do that, or can no longer sign in.', {
      status: 403,
    });
  request.pageContext = isInstruments(request) ? { ...context, person: null } : context;
  request.site = context.site;
  if (!isInstruments(request) && context.person !== null) request.person = context.person;
  holdToRepeats(request);
}

function holdToRate({ id, perMinute }: Machine, reply: FastifyReply, now: Date): void {
  const rate = countRequest(id, perMinute, now);
  reply.headers(rateHeaders(rate));
  if (rate.isOver)
    throw new Refusal(`This access key may make ${perMinute} requests a minute, and has. Wait, then go on.`, {
      status: 429,
      retryAfterS: rate.resetS,
    });
}

/** The name of a request's route; a HEAD stands beside each GET. */
const routeName = ({ method, routeOptions }: FastifyRequest) =>
  `${method === 'HEAD' ? 'GET' : method} ${routeOptions.url ?? ''}`;

function holdToScope({ scopes }: Machine, sources: MachineSources, request: FastifyRequest): void {
  if (request.is404 && isByDoor(request)) throw notFound('This address');
  const scope = sources.keyScope(routeName(request));
  if (scope === null || !(isByDoor(request) || isInstruments(request)))
    throw new Refusal('No access key opens this. Programs come in under /api/v1.', { status: 403 });
  if (!scopes.includes(scope))
    throw new Refusal(`This access key may not do that: it lacks the scope “${scope}”.`, { status: 403 });
}

function holdToRepeats(request: FastifyRequest): void {
  const { repeatable = false } = request.routeOptions.config;
  if (repeatable || ['GET', 'HEAD'].includes(request.method)) return;
  if (request.headers['idempotency-key'] !== undefined) return;
  throw new Refusal(
    'Send an Idempotency-Key header with a UUID of your own: a new one for each request, the same when you repeat it.',
    { status: 400 },
  );
}
