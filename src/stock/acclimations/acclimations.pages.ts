import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { isRunning } from '../../platform/plans/plans.rules.ts';
import { stepField } from '../../platform/plans/plans.schema.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { pageOfList } from '../../platform/views/pager.ts';
import { isManager } from '../../platform/web/access.ts';
import { optionalChosen, optionalText, pageQuery, text, version } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { endAcclimation, pauseAcclimation, resumeAcclimation } from './acclimations.ts';
import { candidatePlaces, choosePlace } from './change-slot.ts';
import { readStepContext } from './next-step.ts';
import { readAcclimations } from './state.ts';
import { stepBack } from './step-back.ts';
import { doAcclimationStep, leaveOutAcclimationStep } from './steps.ts';
import { acclimationRow, acclimationView } from './view.ts';

/** Acclimations: which run and ran, what each does next, and everything that can be done with one. */
export function acclimationPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/acclimations', (request, reply) => showList(service, request, reply));
  app.get('/stock/acclimations/:id', (request, reply) => showOne(service, request, reply));
  app.post('/stock/acclimations/:id/record', takes(recordBody), (request, reply) =>
    postRecord(service, request, reply),
  );
  app.post('/stock/acclimations/:id/place', takes(placeBody), (request, reply) =>
    postPlace(service, request, reply),
  );
  app.post('/stock/acclimations/:id/omission', takes(omissionBody), (request, reply) =>
    postOmission(service, request, reply),
  );
  app.post('/stock/acclimations/:id/pause', takes(pauseBody), (request, reply) =>
    postPause(service, request, reply),
  );
  app.post('/stock/acclimations/:id/resumption', takes(resumptionBody), (request, reply) =>
    postResumption(service, request, reply),
  );
  app.post('/stock/acclimations/:id/reversal', takes(reversalBody), (request, reply) =>
    postReversal(service, request, reply),
  );
  app.post('/stock/acclimations/:id/end', takes(endBody), (request, reply) =>
    postEnd(service, request, reply),
  );
}

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This acclimation');
const hrefOf = (request: FastifyRequest) => `/stock/acclimations/${idOf(request)}`;

async function showList(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const all = await readAcclimations(service.pool, { siteId: request.site.id });
  const running = all.filter(isRunning);
  const context = await readStepContext(service.pool, running, now);
  const past = pageOfList(
    all.filter((one) => !isRunning(one)),
    pageQuery.parse(request.query),
    (page) => `/stock/acclimations?page=${page}#past`,
  );
  const data = {
    running: running.map((one) => acclimationRow(one, context)),
    past: past.some.map((one) => acclimationRow(one, context)),
    pager: past.pager,
    mayPlan: isManager(request.person.role),
  };
  return showPage(service, request, reply, 'stock/acclimations', data, {
    title: 'Acclimations',
    area: 'stock',
  });
}

const blank = { note: '', pauseReason: '', backReason: '', endReason: '' };

async function showOne(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const now = service.now();
  const [plan] = await readAcclimations(service.pool, { id: idOf(request), siteId: request.site.id });
  if (plan === undefined) throw notFound('This acclimation');
  const context = await readStepContext(service.pool, [plan], now);
  const places = isRunning(plan) ? await candidatePlaces(service.pool, plan, now) : new Map();
  const form = { ...(refused ?? freshForm()), typed: { step: '', ...blank, ...refused?.typed } };
  const key = () => freshForm().key;
  const view = acclimationView(plan, context, places);
  const asksAgain = form.errors.some(({ field }) => field === 'despite');
  const data = {
    ...view,
    next: view.next.map((step) => ({ ...step, refused: asksAgain && form.typed.step === step.id })),
    keys: { pause: key(), resume: key(), back: key(), end: key() },
  };
  return showPage(service, request, reply, 'stock/acclimation', data, {
    title: plan.name,
    area: 'stock',
    form,
  });
}

const again = (service: Service, request: FastifyRequest, reply: FastifyReply) => (form: FormState) =>
  showOne(service, request, reply, form);

const recordBody = z.object({ step: stepField, note: optionalText(300), despite: optionalText(500) });

async function postRecord(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: recordBody,
    act: (work, { step: stepId, ...said }) => doAcclimationStep(work, { stepId, at: work.now, ...said }),
    done: ({ what }) => ({ to: hrefOf(request), notice: `Done: ${what}.` }),
    again: again(service, request, reply),
  });
}

const placeBody = z.object({ step: stepField, version: version(), place: text('a place', 2000) });

async function postPlace(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: placeBody,
    act: (work, { step: stepId, version: seen, place }) =>
      choosePlace(work, { stepId, version: seen, slotIds: place.split(' ') }),
    done: () => ({ to: hrefOf(request), notice: 'The step has another place.' }),
    again: again(service, request, reply),
  });
}

const omissionBody = z.object({
  step: stepField,
  version: version(),
  omission: text('why it is left out', 300),
});

async function postOmission(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: omissionBody,
    act: (work, { step: stepId, version: seen, omission }) =>
      leaveOutAcclimationStep(work, { stepId, version: seen, reason: omission }),
    done: () => ({ to: hrefOf(request), notice: 'The step is left out.' }),
    again: again(service, request, reply),
  });
}

const pauseBody = z.object({ version: version(), pauseReason: text('why it is paused', 300) });

async function postPause(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: pauseBody,
    act: (work, { version: seen, pauseReason }) =>
      pauseAcclimation(work, { id: idOf(request), version: seen, reason: pauseReason }),
    done: () => ({ to: hrefOf(request), notice: 'Paused. Its steps are held back on the rounds.' }),
    again: again(service, request, reply),
  });
}

const resumptionBody = z.object({ version: version(), note: optionalText(300) });

async function postResumption(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: resumptionBody,
    act: (work, { version: seen, note }) =>
      resumeAcclimation(work, { id: idOf(request), version: seen, note }),
    done: () => ({ to: hrefOf(request), notice: 'It goes on.' }),
    again: again(service, request, reply),
  });
}

const reversalBody = z.object({
  version: version(),
  backLot: optionalChosen(),
  backReason: text('why it goes back', 300),
});

async function postReversal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: reversalBody,
    act: (work, { version: seen, backLot, backReason }) =>
      stepBack(work, { id: idOf(request), version: seen, reason: backReason, lotId: backLot }),
    done: () => ({
      to: hrefOf(request),
      notice: 'One step back. It stays longer before the step is repeated.',
    }),
    again: again(service, request, reply),
  });
}

const endBody = z.object({ version: version(), endReason: text('why it ends', 300) });

async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: endBody,
    act: (work, { version: seen, endReason }) =>
      endAcclimation(work, { id: idOf(request), version: seen, reason: endReason }),
    done: () => ({ to: hrefOf(request), notice: 'Ended. What was done stays.' }),
    again: again(service, request, reply),
  });
}
