import fastifyCookie from '@fastify/cookie';
import fastifyCsrf from '@fastify/csrf-protection';
import fastifyFormbody from '@fastify/formbody';
import fastifyHelmet from '@fastify/helmet';
import fastifyRateLimit from '@fastify/rate-limit';
import fastifySession from '@fastify/session';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { dayMs } from '../../science/numeric/time.ts';
import { secretNamed } from '../secrets.ts';
import type { Service } from '../service.ts';
import { sessionDays, sessionStore } from './sessions.ts';

const safe = new Set(['GET', 'HEAD', 'OPTIONS']);

/** The page's own token, from a form's hidden field or a header. */
function tokenOf(request: FastifyRequest): string | undefined {
  const header = request.headers['x-csrf-token'];
  if (typeof header === 'string') return header;
  return (request.body as { _csrf?: string } | undefined)?._csrf;
}

/** Security headers, sessions, protection against forged posts, limits on guessing. */
export async function addGuards(app: FastifyInstance, service: Service): Promise<void> {
  await app.register(fastifyHelmet, {
    contentSecurityPolicy: {
      directives: {
        defaultSrc: ["'self'"],
        scriptSrc: ["'self'"],
        styleSrc: ["'self'", "'unsafe-inline'"],
        imgSrc: ["'self'", 'data:', 'blob:'],
        formAction: ["'self'"],
        frameAncestors: ["'none'"],
        upgradeInsecureRequests: null,
      },
    },
    hsts: false,
  });
  await app.register(fastifyRateLimit, { global: false });
  await app.register(fastifyCookie);
  await app.register(fastifySession, {
    secret: await secretNamed(service.db, 'session'),
    cookieName: 'evenwater',
    cookie: { path: '/', httpOnly: true, sameSite: 'lax', secure: 'auto', maxAge: sessionDays * dayMs },
    rolling: true,
    saveUninitialized: false,
    store: sessionStore(service.db),
  });
  await app.register(fastifyFormbody);
  await app.register(fastifyCsrf, { sessionPlugin: '@fastify/session', getToken: tokenOf });
  app.addHook('preHandler', (request, reply, done) => {
    // A key is sent on purpose each time; only what a browser sends by itself can be forged.
    if (safe.has(request.method) || request.is404 || request.machine) return done();
    if (request.routeOptions.config.withoutFormToken === true) return done();
    app.csrfProtection(request, reply, done);
  });
}
