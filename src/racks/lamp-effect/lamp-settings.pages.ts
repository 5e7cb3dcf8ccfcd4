import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { removalSchema, settingSchema } from '../../farm/lamps/lamps.schema.ts';
import { addSetting, findLamp, type Lamp, listSettings, removeSetting } from '../../farm/lamps/lamps.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { type FormState, freshForm, refusedForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { effectOfSetting } from './lamp-effect.ts';

/** The settings of lamps over time, and changing them: first what a new setting would do, then entering it. */
export function lampSettingPages(app: FastifyInstance, service: Service): void {
  app.get('/lamps/:id/settings', (request, reply) => showSettings(service, request, reply));
  app.get('/lamps/:id/settings/new', (request, reply) => showEffect(service, request, reply));
  app.post(
    '/lamps/:id/settings',
    takes(({ timeZone, now }) => settingSchema(timeZone, now)),
    (request, reply) => postSetting(service, request, reply),
  );
  app.post('/lamps/:id/settings/:setting/removal', takes(removalSchema), (request, reply) =>
    postRemoval(service, request, reply),
  );
}

const lampOf = (service: Service, request: FastifyRequest) =>
  findLamp(service.db, pathId(request, 'id', 'These lamps'));

const schemaFor = (service: Service, request: FastifyRequest) =>
  settingSchema(request.site.timeZone, service.now());

function formOf(service: Service, request: FastifyRequest, lamp: Lamp): FormState {
  const { percent = '' } = lamp.setting ?? {};
  const at = inputMoment(service.now(), request.site.timeZone);
  return freshForm({ percent, litHours: lamp.litHours, rampHours: lamp.rampHours, at, note: '' });
}

async function showSettings(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
  removal: { id: string; reason: string } | null = null,
) {
  const lamp = await lampOf(service, request);
  const settings = (await listSettings(service.db, lamp.id)).map((setting) => ({
    ...setting,
    litHours: setting.litHours ?? lamp.litHours,
    rampHours: setting.rampHours ?? lamp.rampHours,
  }));
  const form = refused ?? formOf(service, request, lamp);
  const data = {
    lamp,
    settings,
    current: settings[0] ?? null,
    refusedId: removal?.id ?? null,
    refusedReason: removal?.reason ?? null,
  };
  return showPage(service, request, reply, 'racks/settings', data, { title: lamp.name, area: 'racks', form });
}

/** The new setting comes in the address: looking at its effect changes nothing. */
async function showEffect(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const parsed = schemaFor(service, request).safeParse(request.query);
  if (!parsed.success) {
    reply.status(422);
    return showSettings(service, request, reply, refusedForm(request.query, fieldErrors(parsed.error)));
  }
  const form = freshForm(request.query as Record<string, string>);
  return effectPage(service, request, reply, parsed.data, form);
}

async function effectPage(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  setting: { percent: number; litHours: number; rampHours: number; at: Date; note: string },
  form: FormState,
) {
  const lamp = await lampOf(service, request);
  // Entered after the fact, before a later setting, it changes nothing from now on.
  const later = lamp.setting !== null && lamp.setting.at > setting.at ? lamp.setting : null;
  const effect =
    later === null
      ? await effectOfSetting(service.pool, lamp.id, setting, service.now())
      : { sentences: [], risk: null, lots: [] };
  const data = { lamp, setting, effect, later };
  return showPage(service, request, reply, 'racks/setting', data, { title: lamp.name, area: 'racks', form });
}

async function postSetting(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'These lamps');
  return submit(request, reply, {
    schema: schemaFor(service, request),
    act: (work, value) => addSetting(work, id, value),
    done: (_, { percent }) => ({
      to: `/lamps/${id}/settings`,
      notice: `Noted: ${percent} %. The light under them is estimated until it is measured again.`,
    }),
    again: (form) => showSettings(service, request, reply, form),
  });
}

async function postRemoval(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'These lamps');
  const setting = pathId(request, 'setting', 'This setting');
  return submit(request, reply, {
    schema: removalSchema,
    act: (work, { reason }) => removeSetting(work, id, setting, reason),
    done: () => ({ to: `/lamps/${id}/settings`, notice: 'The setting is taken back. The journal keeps it.' }),
    again: async (form) => {
      const lamp = await lampOf(service, request);
      const shown = { ...formOf(service, request, lamp), errors: form.errors };
      const reason = String(form.typed.reason ?? '');
      return showSettings(service, request, reply, shown, { id: setting, reason });
    },
  });
}
