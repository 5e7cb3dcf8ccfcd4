import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { isRunning } from '../../platform/plans/plans.rules.ts';
import { stepField } from '../../platform/plans/plans.schema.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { pageOfList } from '../../platform/views/pager.ts';
import { isManager } from '../../platform/web/access.ts';
import { optionalText, pageQuery, text, version } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment, pastMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { correctionChart } from './chart.ts';
import { stopCorrection } from './corrections.ts';
import { readCorrectionRecords, readCorrections } from './load.ts';
import { doCorrectionStep, leaveOutCorrectionStep } from './steps.ts';
import { correctionRow, correctionTitle, correctionView, runningCorrectionRow } from './view.ts';

/** Corrections of a system: which run and ran, what each does, its steps done, left out, stopped. */
export function correctionPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/corrections', (request, reply) => showCorrections(service, request, reply));
  app.get('/water/corrections/:id', (request, reply) => showCorrection(service, request, reply));
  app.post('/water/corrections/:id/stop', takes(stopBody), (request, reply) =>
    postStop(service, request, reply),
  );
  app.post(
    '/water/corrections/:id/record',
    takes(({ timeZone, now }) => recordBody(timeZone, now)),
    (request, reply) => postRecord(service, request, reply),
  );
  app.post('/water/corrections/:id/omission', takes(omissionBody), (request, reply) =>
    postOmission(service, request, reply),
  );
}

const correctionId = (request: FastifyRequest) => pathId(request, 'id', 'This correction');

async function showCorrections(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const systemIds = [system.id];
  const running = await readCorrections(service.pool, { systemIds, running: true }, now);
  const all = await readCorrectionRecords(service.pool, { systemIds });
  const past = pageOfList(
    all.filter((one) => !isRunning(one)),
    pageQuery.parse(request.query),
    (page) => `/water/systems/${system.id}/corrections?page=${page}#past`,
  );
  const data = {
    system,
    running: running.map((state) => runningCorrectionRow(state, now)),
    past: past.some.map(correctionRow),
    pager: past.pager,
    mayPlan: isManager(request.person.role) && system.retiredAt === null,
  };
  const title = `Corrections: ${system.name}`;
  return showPage(service, request, reply, 'water/corrections', data, { title, area: 'water' });
}

async function showCorrection(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const now = service.now();
  const [state] = await readCorrections(service.pool, { id: correctionId(request) }, now);
  if (state === undefined) throw notFound('This correction');
  const form =
    refused ??
    freshForm({ at: inputMoment(now, request.site.timeZone), note: '', omission: '', stopReason: '' });
  const data = {
    system: { id: state.systemId, name: state.systemName },
    ...correctionView(state, now),
    chart: { wide: correctionChart(state, now), narrow: correctionChart(state, now, 360) },
    latest: inputMoment(now, request.site.timeZone),
    mayPlan: isManager(request.person.role),
    typed: { at: '', note: '', omission: '', stopReason: '', ...form.typed },
    keys: { record: form.key, omission: freshForm().key, stop: freshForm().key },
  };
  return showPage(service, request, reply, 'water/correction', data, {
    title: correctionTitle(state),
    area: 'water',
    form,
  });
}

const recordBody = (timeZone: string, now: Date) =>
  z.object({
    step: stepField,
    at: pastMoment(timeZone, now),
    note: optionalText(500),
  });

async function postRecord(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = correctionId(request);
  return submit(request, reply, {
    schema: recordBody(request.site.timeZone, service.now()),
    act: (work, { step, ...record }) => doCorrectionStep(work, { stepId: step, ...record }),
    done: ({ what }) => ({ to: `/water/corrections/${id}`, notice: `Done and logged: ${what}.` }),
    again: (form) => showCorrection(service, request, reply, form),
  });
}

const omissionBody = z.object({
  step: stepField,
  version: version(),
  omission: text('why it is left out', 500),
});

async function postOmission(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = correctionId(request);
  return submit(request, reply, {
    schema: omissionBody,
    act: (work, { step, version: seen, omission }) =>
      leaveOutCorrectionStep(work, { stepId: step, version: seen, reason: omission }),
    done: () => ({ to: `/water/corrections/${id}`, notice: 'The step is left out.' }),
    again: (form) => showCorrection(service, request, reply, form),
  });
}

const stopBody = z.object({ version: version(), stopReason: text('why it is stopped', 500) });

async function postStop(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = correctionId(request);
  return submit(request, reply, {
    schema: stopBody,
    act: (work, { version: seen, stopReason }) =>
      stopCorrection(work, { id, version: seen, reason: stopReason }),
    done: () => ({ to: `/water/corrections/${id}`, notice: 'Stopped. What was done stays in the log.' }),
    again: (form) => showCorrection(service, request, reply, form),
  });
}
