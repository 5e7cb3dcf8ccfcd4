import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../service.ts';
import { drawAgainHeader, type KeptForm, keptForm, notDrawnHeader } from './kept-forms.ts';
import { pathId } from './requests.ts';

/** Shows a form that was kept while its sender signed in again. */
export function keptFormPages(app: FastifyInstance, service: Service): void {
  app.get('/kept/:id', (request, reply) => show(app, service, request, reply));
}

const lost = 'What was typed before is no longer kept, or was typed by somebody else. Enter it again.';
const pressAgain =
  'You are signed in again. What you sent just before was not saved: look at this page, then do it again.';

async function show(app: FastifyInstance, service: Service, request: FastifyRequest, reply: FastifyReply) {
  const form = await keptForm(service.pool, request, pathId(request), service.now());
  if (form === null) return leadTo('/', lost, request, reply);
  if (goToItsSite(request, form)) return reply.redirect(request.url, 303);
  const answer = await sendAgain(app, request, form);
  const location = answer.headers.location;
  if (typeof location === 'string') return leadTo(form.from ?? location, pressAgain, request, reply);
  // The token in the form is not this person's: another one typed it.
  if (answer.statusCode === 403) return leadTo('/', lost, request, reply);
  if (answer.headers[notDrawnHeader] !== undefined)
    return leadTo(form.from ?? '/', pressAgain, request, reply);
  return reply.type('text/html; charset=utf-8').header('cache-control', 'no-store').send(answer.rawPayload);
}

/**
 * A form is drawn again at the site that it was drawn at: a new sign-in is at the first.
 * @returns true where the next request is at another site, if the person belongs there
 */
function goToItsSite(request: FastifyRequest, { body }: KeptForm): boolean {
  const siteId = z.uuid().safeParse(body._site).data;
  if (siteId === undefined || siteId === request.site.id || siteId === request.session.get('siteId'))
    return false;
  request.session.set('siteId', siteId);
  return true;
}

function leadTo(address: string, notice: string, request: FastifyRequest, reply: FastifyReply) {
  request.session.set('notice', notice);
  return reply.redirect(address, 303);
}

/** Sends the form to its own route, which saves nothing and draws it as typed. */
async function sendAgain(app: FastifyInstance, request: FastifyRequest, { url, body }: KeptForm) {
  const fields = new URLSearchParams();
  for (const [name, value] of Object.entries(body))
    for (const one of [value].flat()) fields.append(name, String(one));
  const { host = '', cookie = '' } = request.headers;
  return app.inject({
    method: 'POST',
    url,
    remoteAddress: request.ip,
    headers: {
      host,
      cookie,
      accept: 'text/html',
      'content-type': 'application/x-www-form-urlencoded',
      [drawAgainHeader]: 'yes',
    },
    payload: fields.toString(),
  });
}
