import { STATUS_CODES } from 'node:http';
import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { isDatabaseAway } from '../database/away.ts';
import { sparingly } from '../log.ts';
import { Refusal } from '../refusal.ts';
import type { Service } from '../service.ts';
import { fieldErrors } from '../views/field-errors.ts';
import type { FieldError, PageData } from '../views/page.ts';
import { isDrawnAgain, notDrawnHeader } from './kept-forms.ts';
import { pageUnits, showPage } from './pages.ts';
import { wantsJson } from './requests.ts';
import { takeTry, triesFrom } from './wrong-tries.ts';

interface Failure {
  status: number;
  message: string;
  errors: FieldError[];
  /** Seconds to wait before asking again, where that helps. */
  retryAfterS?: number | null;
}

const ours =
  'Something went wrong on our side. What you sent was not saved; nothing else is lost. Try again.';

const said: Record<string, { status: number; message: string }> = {
  FST_CSRF_MISSING_SECRET: {
    status: 403,
    message:
      'Your sign-in ran out meanwhile. Go back (what you typed is still there), sign in in another tab, then send it again.',
  },
  FST_CSRF_INVALID_TOKEN: {
    status: 403,
    message:
      'This form is from an older sign-in. Go back (what you typed is still there), reload in another tab, then send it again.',
  },
  FST_ERR_CTP_BODY_TOO_LARGE: { status: 413, message: 'That is too large to be taken.' },
  FST_ERR_CTP_INVALID_JSON_BODY: { status: 400, message: 'That is not valid JSON.' },
  FST_ERR_CTP_INVALID_MEDIA_TYPE: { status: 415, message: 'That kind of content is not taken here.' },
};

const away = {
  status: 503,
  message:
    'The database cannot be used at the moment. The service tries again by itself and goes on as soon as it is back. A form that you have just sent may not have been saved: go back and send it again, it is kept only once. A round on a tablet goes on meanwhile.',
  errors: [],
};

/** What a schema refused where no form of ours brings it: the address of a page, mostly. */
function unreadable(error: z.ZodError): Failure {
  const errors = fieldErrors(error);
  const [first] = errors;
  const where = first === undefined || first.field === '' ? '' : ` (${first.field})`;
  const message = `That request cannot be answered as it was sent: ${first?.message ?? 'its values do not fit'}${where}.`;
  return { status: 400, message: message.replace('..', '.'), errors };
}

function failureOf(error: unknown): Failure {
  if (isDatabaseAway(error)) return away;
  if (error instanceof z.ZodError) return unreadable(error);
  if (error instanceof Refusal) {
    const { status, message, fields: errors, retryAfterS } = error;
    return { status, message, errors, retryAfterS };
  }
  const { code = '', statusCode = 500 } = error as Partial<FastifyError>;
  const known = said[code];
  if (known !== undefined) return { ...known, errors: [] };
  if (statusCode >= 400 && statusCode < 500) {
    return { status: statusCode, message: 'That request cannot be answered as it was sent.', errors: [] };
  }
  return { status: 500, message: ours, errors: [] };
}

/** Problem details as RFC 9457 has them; `errors` and `reference` are extension members: refused fields, the request's id. */
function problem(failure: Failure, request: FastifyRequest) {
  const errors = failure.errors.filter((error) => error.field !== '');
  return {
    type: 'about:blank',
    title: STATUS_CODES[failure.status] ?? 'Error',
    status: failure.status,
    detail: failure.message,
    instance: request.originalUrl,
    ...(errors.length > 0 ? { errors } : {}),
    reference: request.id,
  };
}

const headings: Record<number, string> = {
  403: 'Not open to you',
  404: 'Nothing here',
  409: 'Changed meanwhile',
  429: 'Too many tries',
  500: 'That did not work',
};

async function answer(service: Service, request: FastifyRequest, reply: FastifyReply, failure: Failure) {
  reply.status(failure.status);
  if (isDrawnAgain(request)) reply.header(notDrawnHeader, 'yes');
  if (typeof failure.retryAfterS === 'number') reply.header('retry-after', String(failure.retryAfterS));
  if (wantsJson(request)) return reply.type('application/problem+json').send(problem(failure, request));
  if (failure.status === 503) return showAway(service, request, reply.header('retry-after', '5'), failure);
  if (request.pageContext === undefined) return reply.type('text/plain; charset=utf-8').send(failure.message);
  const heading = headings[failure.status] ?? 'That was not taken';
  const layout = request.pageContext.person === null ? 'plain' : 'house';
  const data = { heading, message: failure.message, reference: failure.status >= 500 ? request.id : null };
  return showPage(service, request, reply, 'failure', data, { title: heading, layout });
}

/** The page that is shown while the database is away: it needs nothing of it, and looks again by itself. */
function showAway(service: Service, request: FastifyRequest, reply: FastifyReply, { message }: Failure) {
  const page: PageData = {
    title: 'One moment',
    area: null,
    now: service.now(),
    timeZone: 'UTC',
    site: null,
    person: null,
    units: pageUnits(),
    csrf: '',
    counts: { now: 0, today: 0 },
    switchedOff: null,
    emergencies: [],
    notice: null,
    undo: null,
    scripts: [],
    hasErrors: false,
  };
  if (request.method === 'GET') reply.header('refresh', '5');
  const html = service.views.render('away', { message, page, reference: request.id }, 'plain');
  return reply.type('text/html; charset=utf-8').header('cache-control', 'no-store').send(html);
}

/** Counts a wrong code of a tag, or of a letter, as a guess; gives the refusal there was, or that of too many tries. */
async function afterWrongSecret(service: Service, request: FastifyRequest, error: unknown): Promise<unknown> {
  const { access } = request.routeOptions.config;
  const isWrong =
    error instanceof Refusal && error.status === 404 && (access === 'tag' || access === 'letter');
  if (!isWrong) return error;
  return takeTry(service.pool, triesFrom('secret', request.ip), service.now()).then(
    () => error,
    (refused: unknown) => refused,
  );
}

/** Pages (or problem details) for what is unknown, forbidden, refused or broken. Inner errors are logged, never shown. */
export function addFailures(app: FastifyInstance, service: Service): void {
  const sayAway = sparingly(service.log, 'the database is away');
  app.setErrorHandler(async (error, request, reply) => {
    const failure = failureOf(await afterWrongSecret(service, request, error));
    if (failure.status === 503) sayAway(error);
    else if (failure.status >= 500) request.log.error({ err: error }, 'request failed');
    return answer(service, request, reply, failure);
  });
  app.setNotFoundHandler({ preHandler: [] }, async (request, reply) =>
    answer(service, request, reply, {
      status: 404,
      message: 'There is no such page. Look through the areas instead.',
      errors: [],
    }),
  );
}
