import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../platform/service.ts';
import { optionalText } from '../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { listQuantities, sayBand, unitChoices } from './quantities.ts';
import { setUnits } from './units.ts';

/** In which units the farm reads and writes; what is stored does not change with them. */
export function unitPages(app: FastifyInstance, service: Service): void {
  const manager = { config: { access: 'manager' as const } };
  app.get('/water/units', manager, (request, reply) => showUnits(service, request, reply));
  app.post('/water/units', manager, (request, reply) => postUnits(service, request, reply));
}

async function showUnits(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const quantities = await listQuantities(service.db);
  const form =
    refused ??
    freshForm(Object.fromEntries(quantities.map((quantity) => [quantity.code, quantity.displayUnit])));
  const rows = quantities.map((quantity) => ({
    code: quantity.code,
    name: quantity.name,
    units: unitChoices(quantity).sort((a, b) => a.text.localeCompare(b.text)),
    unit: form.typed[quantity.code] ?? quantity.displayUnit,
    usual: sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh),
    source: quantity.source,
  }));
  return showPage(service, request, reply, 'water/units', { rows }, { title: 'Units', area: 'water', form });
}

async function postUnits(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const quantities = await listQuantities(service.db);
  const schema = z.object(
    Object.fromEntries(quantities.map((quantity) => [quantity.code, optionalText(40)])),
  );
  return submit(request, reply, {
    schema,
    act: (work, typed) => setUnits(work, typed, quantities),
    done: () => ({
      to: '/water/units',
      notice: 'Saved. Everything is shown in these units; what was entered stays as it was.',
    }),
    again: (form) => showUnits(service, request, reply, form),
  });
}
