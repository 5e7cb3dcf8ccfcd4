import type { FastifyReply, FastifyRequest } from 'fastify';
import type { Role } from '../../generated/prisma/enums.ts';
import { isByDoor } from '../door/addresses.ts';
import { valuesOf } from '../door/answers.ts';
import { Refusal } from '../refusal.ts';
import type { Service } from '../service.ts';
import { smallUnit, unitNames } from '../units/measures.ts';
import { unitsNow, unitsText } from '../units/units.ts';
import { forLooking } from '../views/looking.ts';
import type { Area, Layout, PageData } from '../views/page.ts';
import { isManager, may } from './access.ts';
import { emptyWhereMissing, type FormState } from './forms.ts';
import { formUser } from './guards.ts';
import type { OffNow } from './page-context.ts';

/** How a page stands among the others. */
export interface PageOptions {
  /** For how long it may be kept, and by whom (RFC 9111, 5.2.2); by nobody where left out. */
  cache?: string;
  title: string;
  area?: Area | null;
  layout?: Layout;
  scripts?: string[];
  /** The form on it, when it has one: its refusal marks the title, its state is `form` in the view. */
  form?: FormState;
}

/** What was just done, said once, and where it can be undone. */
function takeNotice(request: FastifyRequest): { notice: string | null; undo: string | null } {
  const notice = request.session?.get('notice') ?? null;
  const undo = request.session?.get('undo') ?? null;
  if (notice !== null) request.session.set('notice', undefined);
  if (undo !== null) request.session.set('undo', undefined);
  return { notice: notice ?? (undo === null ? null : 'Saved.'), undo };
}

function offBanner(off: readonly OffNow[], request: FastifyRequest, now: Date): PageData['switchedOff'] {
  if (off.length === 0) return null;
  const back = request.method === 'GET' ? (request.url.split('?')[0] ?? '/') : '/';
  const places = off.map((one) => ({
    ...one,
    late: new Date(one.dueAt) <= now,
  }));
  return { nowIso: now.toISOString(), back, places };
}

/** The units of whoever the page is for, as views name them and as its forms carry them. */
export const pageUnits = (): PageData['units'] => ({
  ...unitNames(),
  small: smallUnit(),
  sent: unitsText(unitsNow()),
});

/** What surrounds a page, without the notice that is said once. */
export function pageData(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  options: PageOptions,
): PageData {
  const { person, site, counts, switchedOff, emergencies } = request.pageContext;
  const now = service.now();
  return {
    title: options.title,
    area: options.area ?? null,
    now,
    timeZone: site?.timeZone ?? 'UTC',
    site:
      site === null
        ? null
        : { id: site.id, name: site.name, isOnlyOne: site.isOnlyOne, mayLeave: site.mayLeave },
    person:
      person === null
        ? null
        : {
            name: person.name,
            role: person.role,
            isManager: isManager(person.role),
            isOwner: person.role === 'owner',
          },
    units: pageUnits(),
    csrf: options.layout === 'public' ? '' : reply.generateCsrf({ userInfo: formUser(request) }),
    counts,
    onTablet: request.session?.get('tablet') !== undefined,
    switchedOff: person === null ? null : offBanner(switchedOff, request, now),
    emergencies:
      person === null
        ? []
        : emergencies.map((one) => ({ ...one, late: one.dueAt !== null && new Date(one.dueAt) <= now })),
    notice: null,
    undo: null,
    scripts: options.scripts ?? [],
    hasErrors: (options.form?.errors.length ?? 0) > 0,
  };
}

/** A refused form, however its page put it together: what was not sent is empty. */
const wholeForm = (form: FormState): FormState =>
  form.errors.length === 0 ? form : { ...form, typed: emptyWhereMissing(form.typed) };

/** Whether a page may be opened by a role; what no route answers (files) is anybody's. */
const opensFor =
  (request: FastifyRequest, role: Role) =>
  (address: string): boolean =>
    may(role, request.server.pageAccess(address) ?? 'anybody');

/**
 * A page as a program gets it: the values of its form, which go back changed; what was refused as problem details.
 * @throws Refusal with the reply's status where the form was refused; 404 where the page has no form
 */
function showByDoor(
  request: FastifyRequest,
  reply: FastifyReply,
  data: { seen?: unknown; version?: unknown; agreed?: unknown },
  { title, form }: PageOptions,
): FastifyReply {
  if (form === undefined)
    throw new Refusal(
      'This address is a page for people. What programs read and write is listed at /api/v1/openapi.json.',
      { status: request.method === 'GET' ? 404 : 422 },
    );
  const [first] = form.errors;
  if (first === undefined) return reply.send(valuesOf(title, form.typed, data));
  const status = reply.statusCode >= 400 ? reply.statusCode : 422;
  throw new Refusal(first.message, { status, fields: form.errors });
}

/** Answers with `views/<name>.hbs`, given `data`, `form` (when there is one) and `page` (what surrounds it). */
export async function showPage(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  name: string,
  data: object,
  options: PageOptions,
): Promise<FastifyReply> {
  if (isByDoor(request)) return showByDoor(request, reply, data, options);
  const said = options.layout === 'public' ? {} : takeNotice(request);
  const page = { ...pageData(service, request, reply, options), ...said };
  const form = options.form === undefined ? {} : { form: wholeForm(options.form) };
  const drawn = service.views.render(name, { ...data, ...form, page }, options.layout ?? 'house');
  const html = page.person?.role === 'reader' ? forLooking(drawn, opensFor(request, 'reader')) : drawn;
  reply.type('text/html; charset=utf-8').header('cache-control', options.cache ?? 'no-store');
  return reply.send(html);
}
