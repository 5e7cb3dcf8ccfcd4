import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Work } from '../platform/change.ts';
import { Refusal } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { optionalText } from '../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { unitsOf } from '../science/units.ts';
import { decimalsIn, listQuantities, type Quantity, sayBand, unitChoices } from './quantities.ts';

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

/** Sets the farm's unit of each quantity named, and as many decimals as tell the same there. @throws Refusal */
async function setUnits(
  work: Work,
  typed: Readonly<Record<string, string>>,
  quantities: readonly Quantity[],
): Promise<void> {
  const changed = quantities.filter(({ code, displayUnit }) => typed[code] && typed[code] !== displayUnit);
  for (const quantity of changed) {
    const unit = typed[quantity.code] ?? '';
    if (!unitsOf(quantity.code).includes(unit))
      throw new Refusal(`Choose a unit of ${quantity.name.toLowerCase()} from the list.`, {
        field: quantity.code,
      });
    await work.tx.quantity.update({
      where: { code: quantity.code },
      data: { displayUnit: unit, decimals: decimalsIn(quantity, unit) },
    });
  }
  const subject = work.by ?? '00000000-0000-0000-0000-000000000000';
  work.note(
    'units.changed',
    { type: 'account', id: subject },
    { units: Object.fromEntries(changed.map(({ code }) => [code, typed[code]])) },
  );
}
