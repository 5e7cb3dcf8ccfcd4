import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { inputLength } from '../../platform/units/measures.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { racksOfTank } from '../racks/racks.ts';
import { findTank } from '../tanks/tanks.ts';
import { lampsEachSchema } from './lamps.schema.ts';
import { listLampsAbove } from './lamps.ts';
import { addLampEach } from './lamps-each.ts';

/** One lamp a rack in one step; like another lamp of the tank where the address names it (`?like=`). */
export function lampsEachPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/tanks/:id/lamps/each', (request, reply) => showEach(service, request, reply));
  app.post(
    '/farm/tanks/:id/lamps/each',
    takes(({ timeZone, now }) => lampsEachSchema(timeZone, now)),
    (request, reply) => postEach(service, request, reply),
  );
}

async function showEach(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const { like = '' } = request.query as { like?: string };
  const [inTank, lamps] = await Promise.all([
    racksOfTank(service.db, tank.id),
    listLampsAbove(service.db, tank.id),
  ]);
  const lamp = lamps.find(({ id }) => id === like);
  const blank = {
    model: lamp?.model ?? '',
    heightMm: inputLength(lamp?.heightMm ?? null),
    percent: lamp?.setting?.percent ?? '',
    since: '',
  };
  const hours = { litHours: lamp?.litHours ?? '', rampHours: lamp?.rampHours ?? '' };
  const form = refused ?? freshForm({ ...blank, ...hours });
  const chosen = refused === undefined ? null : [form.typed.racks ?? []].flat();
  const racks = inTank.map((rack) => ({
    ...rack,
    ticked: chosen === null ? rack.lamp === null : chosen.includes(rack.id),
  }));
  return showPage(
    service,
    request,
    reply,
    'farm/lamps-each',
    { tank, racks },
    { title: 'One lamp a rack', form },
  );
}

async function postEach(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This tank');
  return submit(request, reply, {
    schema: lampsEachSchema(request.site.timeZone, service.now()),
    act: (work, input) => addLampEach(work, id, input),
    done: ({ names }) => ({
      to: `/farm/tanks/${id}`,
      notice: `${plural(names.length, 'lamp hangs', 'lamps hang')} now, one a rack: ${names.join(', ')}.`,
    }),
    again: (form) => showEach(service, request, reply, form),
  });
}
