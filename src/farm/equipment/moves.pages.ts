import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { chosen, version } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { tanksToHangOver } from '../lamps/lamp-moves.ts';
import { findEquipment } from './equipment.ts';
import { moveEquipment } from './moves.ts';

/** Moving a device to another tank. */
export function equipmentMovePages(app: FastifyInstance, service: Service): void {
  app.get('/farm/equipment/:id/tank', (request, reply) => show(service, request, reply));
  app.post(
    '/farm/equipment/:id/tank',
    takes(({ timeZone, now }) => moveSchema(timeZone, now)),
    (request, reply) => post(service, request, reply),
  );
}

const moveSchema = (timeZone: string, now: Date) =>
  z.object({ tankId: chosen('Choose the tank.'), since: pastMoment(timeZone, now), version: version() });

async function show(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const device = await findEquipment(service.db, pathId(request, 'id', 'This equipment'));
  const form = refused ?? freshForm({ tankId: '', since: '', version: device.version });
  const tanks = (await tanksToHangOver(service.db, request.site.id))
    .filter(({ id }) => id !== device.tankId)
    .map(({ id, name, system }) => ({ value: id, text: `${name}, ${system.name}` }));
  const title = `Move ${device.name} to another tank`;
  return showPage(service, request, reply, 'farm/equipment-move', { device, tanks }, { title, form });
}

async function post(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This equipment');
  return submit(request, reply, {
    schema: moveSchema(request.site.timeZone, service.now()),
    act: (work, value) => moveEquipment(work, id, value),
    done: ({ name }) => ({
      to: `/farm/equipment/${id}`,
      notice: `${name} is in another tank now. What was noted of it before keeps its system.`,
    }),
    again: (form) => show(service, request, reply, form),
  });
}
