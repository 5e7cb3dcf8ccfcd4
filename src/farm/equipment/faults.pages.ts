import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { backOf } from '../../platform/web/back.ts';
import { optionalChosen, text } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findSystem } from '../systems/systems.ts';
import { equipmentOf } from './equipment.ts';
import { findFault, mendFault, noteFault, openFaults } from './faults.ts';

const faultSchema = z.object({ equipmentId: optionalChosen(), seen: text('what you see', 500) });
const mendSchema = z.object({ mended: text('what was done', 500) });

/** What is wrong with a system's equipment: noted by anybody, open until somebody says that it is mended. */
export function faultPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/systems/:id/faults', (request, reply) => showFaults(service, request, reply));
  app.post('/farm/systems/:id/faults', takes(faultSchema), (request, reply) =>
    postFault(service, request, reply),
  );
  app.post('/farm/faults/:id/mended', takes(mendSchema), (request, reply) =>
    postMended(service, request, reply),
  );
}

const systemOf = (request: FastifyRequest) => pathId(request, 'id', 'This system');

async function showFaults(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  { systemId = systemOf(request), refused }: { systemId?: string; refused?: FormState } = {},
) {
  const system = await findSystem(service.db, systemId);
  const { equipment = '' } = request.query as { equipment?: string };
  const [faults, devices] = await Promise.all([
    openFaults(service.db, system.id),
    equipmentOf(service.pool, [system.id]),
  ]);
  const form = refused ?? freshForm({ equipmentId: equipment, seen: '' });
  const data = { system, faults, devices: devices.map(({ id, name }) => ({ value: id, text: name })) };
  return showPage(service, request, reply, 'farm/faults', data, { title: `Faults: ${system.name}`, form });
}

async function postFault(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const systemId = systemOf(request);
  return submit(request, reply, {
    schema: faultSchema,
    act: (work, value) => noteFault(work, { systemId, ...value }),
    done: () => ({
      to: `/farm/systems/${systemId}/faults`,
      notice: 'Noted. Everybody sees it under Alerts and on Today now.',
    }),
    again: (refused) => showFaults(service, request, reply, { refused }),
  });
}

async function postMended(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This fault');
  const { systemId, leftOut } = await findFault(service.db, id);
  return submit(request, reply, {
    schema: mendSchema,
    act: (work, { mended }) => mendFault(work, id, mended),
    done: () => ({
      to: backOf(request) ?? `/farm/systems/${systemId}/faults`,
      notice: leftOut === null ? 'Mended.' : 'Noted: checked, and all is right.',
    }),
    again: (refused) => showFaults(service, request, reply, { systemId, refused }),
  });
}
