import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Contact } from '../../generated/prisma/client.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { contactEditSchema, contactSchema } from './contacts.schema.ts';
import { addContact, editContact, findContact, listContacts } from './contacts.ts';
import { contactRoleCodes, contactRoles } from './roles.ts';

/** Whom to call: the farm's own list of numbers. */
export function contactPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/contacts', (request, reply) => showContacts(service, request, reply));
  app.get('/farm/contacts/new', (request, reply) => showNew(service, request, reply));
  app.post('/farm/contacts', takes(contactSchema), (request, reply) => postNew(service, request, reply));
  app.get('/farm/contacts/:id', (request, reply) => showEdit(service, request, reply));
  app.post('/farm/contacts/:id', takes(contactEditSchema), (request, reply) =>
    postEdit(service, request, reply),
  );
}

const dayOf = (at: Date | null) => at?.toISOString().slice(0, 10) ?? '';

/** A number as a list shows it. */
export function contactLine({ id, role, name, number, email, onCall, testedOn, note }: Contact) {
  const said = name || contactRoles[role].name;
  return {
    id,
    role: contactRoles[role].name,
    name: said,
    number,
    email,
    onCall,
    testedOn: dayOf(testedOn),
    note,
  };
}

async function showContacts(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const contacts = await listContacts(service.db, request.site.id);
  const missing = contactRoleCodes
    .filter((code) => code !== 'other' && !contacts.some(({ role }) => role === code))
    .map((code) => ({ code, ...contactRoles[code] }));
  const onCall = contacts
    .filter((one) => one.onCall !== null)
    .sort((a, b) => (a.onCall ?? 0) - (b.onCall ?? 0));
  const data = {
    contacts: contacts.map(contactLine),
    onCall: onCall.map(contactLine),
    missing,
    mailIsSet: service.config.SMTP_URL !== undefined,
  };
  return showPage(service, request, reply, 'farm/contacts', data, { title: 'Whom to call' });
}

const roleOptions = contactRoleCodes.map((value) => ({ value, text: contactRoles[value].name }));

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const { role = '' } = request.query as { role?: string };
  const form =
    refused ?? freshForm({ role, name: '', number: '', email: '', onCall: '', testedOn: '', note: '' });
  const data = {
    heading: 'A number to call',
    action: '/farm/contacts',
    roleOptions,
    contact: null,
    theirs: null,
  };
  return showPage(service, request, reply, 'farm/contact', data, { title: data.heading, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: contactSchema,
    act: (work, value) => addContact(work, request.site.id, value),
    done: (_, { role }) => ({
      to: '/farm/contacts',
      notice: `${contactRoles[role].name}: the number is kept.`,
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showEdit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const contact = await findContact(service.db, pathId(request, 'id', 'This number'));
  const { role, name, number, email, onCall, testedOn, note, version } = contact;
  const removed = contact.removedAt === null ? '' : 'yes';
  const typed =
    refused ??
    freshForm({ role, name, number, email, onCall, testedOn: dayOf(testedOn), note, removed, version });
  const { form, theirs } = afterStale(typed, reply, { version }, `${name} ${number}`.trim());
  const heading = name || contactRoles[role].name;
  const action = `/farm/contacts/${contact.id}`;
  const data = { heading, action, roleOptions, contact: { id: contact.id }, theirs };
  return showPage(service, request, reply, 'farm/contact', data, { title: heading, form });
}

async function postEdit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This number');
  return submit(request, reply, {
    schema: contactEditSchema,
    act: (work, value) => editContact(work, id, value),
    done: (_, { removed }) => ({
      to: '/farm/contacts',
      notice: removed ? 'The number is removed from the list.' : 'The number is changed.',
    }),
    again: (form) => showEdit(service, request, reply, form),
  });
}
