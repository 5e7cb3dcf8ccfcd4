import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { choice, many } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { findTank } from '../tanks/tanks.ts';
import { flowChoices } from './flow.rules.ts';
import { racksOfTank } from './racks.ts';
import { flowStanding, racksWithoutFlow, setFlowOfRacks } from './tank-flow.ts';
import { flowChoiceOptions } from './words.ts';

/** The flow of whole racks of a tank, in one step. */
export function tankFlowPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/tanks/:id/flow', (request, reply) => showFlow(service, request, reply));
  app.post('/farm/tanks/:id/flow', takes(schema), (request, reply) => postFlow(service, request, reply));
}

const schema = z.object({
  flow: choice(flowChoices, 'Choose how the water moves.'),
  racks: many().pipe(
    z.array(z.uuid({ error: 'Choose racks of the list.' })).min(1, { error: 'Tick the racks that have it.' }),
  ),
});

async function showFlow(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const form = refused ?? freshForm({ flow: '' });
  const ticked =
    refused === undefined ? await racksWithoutFlow(service.db, tank.id) : [form.typed.racks ?? []].flat();
  const racks = (await racksOfTank(service.db, tank.id)).map((rack) => ({
    ...rack,
    ticked: ticked.includes(rack.id),
  }));
  const seen = await seenNow(service.db, flowStanding(tank.id));
  const data = { tank, racks, options: flowChoiceOptions, seen };
  return showPage(service, request, reply, 'farm/rack-flow', data, { title: 'Flow of whole racks', form });
}

async function postFlow(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This tank');
  return submit(request, reply, {
    schema,
    over: flowStanding(id),
    act: (work, input) => setFlowOfRacks(work, id, input),
    done: ({ racks }) => ({
      to: `/farm/tanks/${id}`,
      notice: `The flow of ${plural(racks, 'rack', 'racks')} is noted.`,
    }),
    again: (form) => showFlow(service, request, reply, form),
  });
}
