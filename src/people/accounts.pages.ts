import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../platform/service.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { afterStale } from '../platform/web/stale-edit.ts';
import { accountSchema, newAccountSchema } from './accounts.schema.ts';
import { addPerson, editPerson, findPerson, listPeople } from './accounts.ts';

/** Who works here and what they may do. */
export function accountPages(app: FastifyInstance, service: Service): void {
  app.get('/people', (request, reply) =>
    showPeople(service, request, reply, freshForm({ name: '', email: '', role: 'hand', pin: '' })),
  );
  app.post('/people', (request, reply) => postPerson(service, request, reply));
  app.get('/people/:id', (request, reply) => showPerson(service, request, reply));
  app.post('/people/:id', (request, reply) => postPersonEdit(service, request, reply));
}

const roles = [
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
    act: addPerson,
    done: (_, value) => ({ to: '/people', notice: `${value.name} can sign in now.` }),
    again: (form) => showPeople(service, request, reply, form),
  });
}

async function showPerson(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const person = await findPerson(service.db, pathId(request, 'id', 'This account'));
  const { name, role, version, disabled } = person;
  const typed = refused ?? freshForm({ name, role, version, disabled: disabled ? 'yes' : '' });
  const said = `${name}, ${role}${disabled ? ', may not sign in' : ''}`;
  const { form, theirs } = afterStale(typed, reply, { version }, said);
  const data = { person, roles, theirs };
  return showPage(service, request, reply, 'people/person', data, { title: person.name, form });
}

async function postPersonEdit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This account');
  return submit(request, reply, {
    schema: accountSchema,
    act: (work, value) => editPerson(work, id, value),
    done: (_, value) => ({ to: '/people', notice: `${value.name} is changed.` }),
    again: (form) => showPerson(service, request, reply, form),
  });
}
