import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../platform/door/takes.ts';
import { seenNow } from '../platform/seen.ts';
import type { Service } from '../platform/service.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { afterStale } from '../platform/web/stale-edit.ts';
import { accountSchema, newAccountSchema, siteRolesSchema } from './accounts.schema.ts';
import { addPerson, editPerson, findPerson, type ListSites, listPeople, type Person } from './accounts.ts';
import { membershipsOf, membershipsStanding, type SiteRole, setMemberships } from './memberships.ts';

/** Who works here and what they may do. */
export function accountPages(app: FastifyInstance, service: Service, listSites: ListSites): void {
  const people: People = { service, listSites };
  app.get('/people', (request, reply) =>
    showPeople(service, request, reply, freshForm({ name: '', email: '', role: 'hand', pin: '' })),
  );
  app.post('/people', takes(newAccountSchema), (request, reply) => postPerson(service, request, reply));
  app.get('/people/:id', (request, reply) => showPerson(people, request, reply));
  app.post('/people/:id', takes(accountSchema), (request, reply) => postPersonEdit(people, request, reply));
  app.post(
    '/people/:id/sites',
    takes(() => siteRolesSchema(['site-ID-OF-SITE'])),
    (request, reply) => postSites(people, request, reply),
  );
}

/** What the pages of people are built from: besides the service, the farm's sites. */
interface People {
  service: Service;
  listSites: ListSites;
}

const roles = [
  {
    value: 'reader',
    text: 'Reader (a vet, an accountant, a landlord): sees water, stock, orders, alerts and files, changes nothing',
  },
  { value: 'hand', text: 'Bench hand: rounds, readings, moves' },
  { value: 'manager', text: 'Manager: also limits, plans, tags' },
  { value: 'owner', text: 'Owner: also people and the farm itself' },
];

async function showPeople(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  const people = await listPeople(service.db);
  return showPage(service, request, reply, 'people/people', { people, roles }, { title: 'People', form });
}

async function postPerson(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: newAccountSchema,
    act: (work, value) => addPerson(work, value, request.site.isOnlyOne ? null : request.site.id),
    done: (_, value) => ({ to: '/people', notice: `${value.name} can sign in now.` }),
    again: (form) => showPeople(service, request, reply, form),
  });
}

const siteRoles = [
  { value: 'reader', text: 'Reader' },
  { value: 'hand', text: 'Bench hand' },
  { value: 'manager', text: 'Manager' },
];

/** What the person is at each site, as the form asks it; none where the farm has one site, or the person owns it. */
async function siteRows({ service, listSites }: People, person: Person, form: FormState) {
  const sites = await listSites(service.db);
  if (sites.length < 2 || person.role === 'owner') return [];
  const roles = await membershipsOf(service.db, person.id);
  return sites.map(({ id, name }) => {
    const now = roles.size === 0 ? person.role : (roles.get(id) ?? '');
    return { name: `site-${id}`, label: name, value: form.typed[`site-${id}`] || now };
  });
}

async function showPerson(people: People, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const { service } = people;
  const person = await findPerson(service.db, pathId(request, 'id', 'This account'));
  const { name, role, version, disabled } = person;
  const typed = refused ?? freshForm({ name, role, version, disabled: disabled ? 'yes' : '' });
  const said = `${name}, ${role}${disabled ? ', may not sign in' : ''}`;
  const { form, theirs } = afterStale(typed, reply, { version }, said);
  const sites = await siteRows(people, person, form);
  const choices =
    sites.length === 0
      ? roles
      : [
          { value: role, text: 'As each site says, below' },
          ...roles.filter(({ value }) => value === 'owner'),
        ];
  const seen = await seenNow(service.db, membershipsStanding(person.id));
  const data = { person, roles: choices, theirs, sites, siteRoles, seen };
  return showPage(service, request, reply, 'people/person', data, { title: person.name, form });
}

async function postPersonEdit(people: People, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This account');
  return submit(request, reply, {
    schema: accountSchema,
    act: (work, value) => editPerson(work, id, value),
    done: (_, value) => ({ to: '/people', notice: `${value.name} is changed.` }),
    again: (form) => showPerson(people, request, reply, form),
  });
}

async function postSites(people: People, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This account');
  const sites = await people.listSites(people.service.db);
  return submit(request, reply, {
    schema: siteRolesSchema(sites.map((site) => `site-${site.id}`)),
    over: membershipsStanding(id),
    act: (work, value) => {
      const chosen = sites.flatMap((site): [string, SiteRole][] => {
        const role = value[`site-${site.id}`] ?? null;
        return role === null ? [] : [[site.id, role]];
      });
      return setMemberships(work, id, new Map(chosen));
    },
    done: () => ({ to: `/people/${id}`, notice: 'The sites are set.' }),
    again: (form) => showPerson(people, request, reply, { ...form, typed: { ...form.typed } }),
  });
}
