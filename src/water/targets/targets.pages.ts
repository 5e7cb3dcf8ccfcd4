import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { listQuantities, sayBand, unitName } from '../quantities/quantities.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { targetFields, targetInputName, targetsSchema } from './targets.schema.ts';
import { listTargets, setTargets, targetFormValue } from './targets.ts';

/** The targets of a system: bands, limits and make-up water, each with its source. */
export function targetPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/targets', (request, reply) => showTargets(service, request, reply));
  app.post('/water/systems/:id/targets', (request, reply) => postTargets(service, request, reply));
}

const labels = { low: 'Band from', high: 'to', limit: 'Limit', makeUp: 'Make-up water' };

async function showTargets(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const [quantities, targets] = await Promise.all([
    listQuantities(service.db),
    listTargets(service.db, system.id),
  ]);
  const form = refused ?? freshForm();
  const rows = quantities.map((quantity) => {
    const target = targets.get(quantity.code);
    const cell = (field: (typeof targetFields)[number]) => {
      const name = targetInputName(quantity.code, field);
      const error = form.errors.find((one) => one.field === name)?.message ?? null;
      return {
        name,
        label: `${quantity.name}: ${labels[field].toLowerCase()}`,
        head: labels[field],
        value: form.typed[name] ?? targetFormValue(quantity, target, field),
        error,
      };
    };
    const name = targetInputName(quantity.code, 'source');
    const error = form.errors.find((one) => one.field === name)?.message ?? null;
    const source = {
      name,
      label: `${quantity.name}: where it comes from`,
      value: form.typed[name] ?? target?.source ?? '',
      error,
    };
    const sureName = targetInputName(quantity.code, 'sure');
    const doubt = form.errors.find((one) => one.field === sureName)?.message ?? null;
    const usual = sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh);
    return {
      name: quantity.name,
      unit: unitName(quantity.code, quantity.displayUnit),
      usual,
      cells: targetFields.map(cell),
      source,
      sure: { name: sureName, doubt },
    };
  });
  return showPage(
    service,
    request,
    reply,
    'water/targets',
    { system, rows },
    { title: `What ${system.name} keeps`, area: 'water', form },
  );
}

async function postTargets(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This system');
  const quantities = await listQuantities(service.db);
  return submit(request, reply, {
    schema: targetsSchema(quantities),
    act: (work, rows) => setTargets(work, id, rows, quantities),
    done: ({ changed }) => ({
      to: `/water/systems/${id}`,
      notice: changed === 0 ? 'Nothing was changed.' : 'Saved. The rules look at this system again.',
    }),
    again: (form) => showTargets(service, request, reply, form),
  });
}
