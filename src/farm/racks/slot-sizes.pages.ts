import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { sizeWords } from '../../platform/units/measures.ts';
import { length } from '../../platform/web/fields/measures.ts';
import { many, tick } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { plural } from '../../platform/words/numbers.ts';
import { asksSure } from '../tanks/concerns.ts';
import { racksWithSlotSizes, setSlotSizes, slotSizeStanding } from './slot-sizes.ts';

/** The size of the slots of many racks, in one step. */
export function slotSizePages(app: FastifyInstance, service: Service): void {
  app.get('/farm/slot-sizes', (request, reply) => showSizes(service, request, reply));
  app.post('/farm/slot-sizes', takes(schema), (request, reply) => postSizes(service, request, reply));
}

const schema = z.object({
  racks: many().pipe(
    z.array(z.uuid({ error: 'Choose racks of the list.' })).min(1, { error: 'Tick the racks that have it.' }),
  ),
  slotWidthMm: length('the width of a slot', 0.5, 100),
  slotDepthMm: length('the depth of a slot', 0.5, 100),
  sure: tick(),
});

async function showSizes(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const { id } = request.site;
  const form = refused ?? freshForm({ slotWidthMm: '', slotDepthMm: '', sure: '' });
  const ticked = refused === undefined ? null : new Set([form.typed.racks ?? []].flat());
  const racks = (await racksWithSlotSizes(service.db, id)).map((rack) => {
    const { slotWidthMm: width, slotDepthMm: depth } = rack;
    const size = width === null || depth === null ? 'not noted' : sizeWords(width, depth);
    return {
      ...{ id: rack.id, name: rack.name, tank: rack.tank.name, size },
      grid: `${rack.rows} × ${rack.columns}`,
      ticked: ticked?.has(rack.id) ?? size === 'not noted',
    };
  });
  const data = {
    racks,
    seen: await seenNow(service.db, slotSizeStanding(id)),
    asksSure: asksSure(form),
  };
  return showPage(service, request, reply, 'farm/slot-sizes', data, {
    title: 'Sizes of slots',
    area: 'racks',
    form,
  });
}

async function postSizes(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id } = request.site;
  return submit(request, reply, {
    schema,
    over: slotSizeStanding(id),
    act: (work, input) => setSlotSizes(work, id, input),
    done: ({ racks }) => ({
      to: '/farm/slot-sizes',
      notice: `The size of the slots of ${plural(racks, 'rack', 'racks')} is noted.`,
    }),
    again: (form) => showSizes(service, request, reply, form),
  });
}
