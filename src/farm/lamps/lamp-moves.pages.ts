import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { moveLamp, tanksToHangOver } from './lamp-moves.ts';
import { lampMoveSchema } from './lamps.schema.ts';
import { findLamp, lampFingerprint } from './lamps.ts';

/** Hanging lamps over another tank. */
export function lampMovePages(app: FastifyInstance, service: Service): void {
  app.get('/farm/lamps/:id/tank', (request, reply) => show(service, request, reply));
  app.post(
    '/farm/lamps/:id/tank',
    takes(({ timeZone, now }) => lampMoveSchema(timeZone, now)),
    (request, reply) => post(service, request, reply),
  );
}

async function show(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const lamp = await findLamp(service.db, pathId(request, 'id', 'These lamps'));
  const form = refused ?? freshForm({ tankId: '', since: '' });
  const chosen = [form.typed.racks ?? []].flat();
  const tanks = (await tanksToHangOver(service.db, request.site.id)).filter(({ id }) => id !== lamp.tankId);
  const data = {
    lamp,
    seen: form.typed.seen ?? lampFingerprint(lamp),
    tanks: tanks.map(({ id, name, system }) => ({ value: id, text: `${name}, ${system.name}` })),
    racks: tanks.flatMap((tank) =>
      tank.racks.map(({ id, name, lamp: over }) => ({
        id,
        name: `${name}, ${tank.name}`,
        checked: chosen.includes(id),
        other: over?.name ?? null,
      })),
    ),
  };
  const title = `Hang ${lamp.name} over another tank`;
  return showPage(service, request, reply, 'farm/lamp-move', data, { title, form });
}

async function post(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'These lamps');
  return submit(request, reply, {
    schema: lampMoveSchema(request.site.timeZone, service.now()),
    act: (work, value) => moveLamp(work, id, value),
    done: ({ name }) => ({
      to: `/farm/lamps/${id}`,
      notice: `${name} hang over another tank now. What they lit before keeps its past.`,
    }),
    again: (form) => show(service, request, reply, form),
  });
}
