import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { optionalText, text } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { aroundRack } from '../../science/photograph/reading/read.ts';
import { countAgain, findLotInPhotograph, giveToLot, refuseMeasure } from './corrections.ts';
import { pathsOf } from './outlines.ts';
import { hasStraight, lotsInPhotograph } from './photographs.ts';
import { leftOutWords } from './reading.words.ts';

/** One lot in one photograph: its outline, what was measured, and putting either right. */
export function lotInPhotographPages(app: FastifyInstance, service: Service): void {
  app.get('/rack-photograph-lots/:id', (request, reply) => showLot(service, request, reply));
  app.post('/rack-photograph-lots/:id/refusal', takes(refusalBody), (request, reply) =>
    postRefusal(service, request, reply),
  );
  app.post('/rack-photograph-lots/:id/counting', takes(countingBody), (request, reply) =>
    postCounting(service, request, reply),
  );
  app.post('/rack-photograph-lots/:id/lot', takes(lotBody), (request, reply) =>
    postLot(service, request, reply),
  );
}

const refusalBody = z.object({ reason: text('what is wrong with it', 300) });
const countingBody = z.object({});
const lotBody = z
  .object({ onRack: optionalText(60), lot: optionalText(60) })
  .transform(({ onRack, lot }, context) => {
    const typed = lot === '' ? onRack : lot;
    if (typed === '')
      context.addIssue({ code: 'custom', path: ['lot'], message: 'Choose the lot, or enter its code.' });
    return { lot: typed };
  });

const rowId = (request: FastifyRequest) => pathId(request, 'id', 'This lot in a photograph');

/** So much around its slots is drawn with an outline, mm (own choice). */
const AROUND = 12;

/** The part of the rack that an outline lies in; the whole rack where there is none. */
function viewOf(
  outline: readonly (readonly [number, number][])[] | null,
  rack: { width: number; depth: number },
) {
  const points = (outline ?? []).flat();
  if (points.length === 0) return aroundRack(rack);
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  const [left, top] = [Math.min(...xs) - AROUND, Math.min(...ys) - AROUND];
  return { x: left, y: top, width: Math.max(...xs) + AROUND - left, height: Math.max(...ys) + AROUND - top };
}

async function showLot(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ reason: '', lot: '', onRack: '' }),
) {
  const row = await findLotInPhotograph(service.db, rowId(request));
  const { photograph, lot, photo } = row;
  const rack = { width: photograph.widthMm, depth: photograph.depthMm };
  const [others, straight] = await Promise.all([
    lotsInPhotograph(service.pool, photograph.id),
    hasStraight(service.db, photograph.id),
  ]);
  const outline = row.outline as [number, number][][] | null;
  const data = {
    ...{ row, photograph, lot, straight, paths: pathsOf(outline) },
    ...{ box: aroundRack(rack), view: viewOf(outline, rack) },
    picture: photo === null || photo.voidedAt !== null ? null : photo,
    refuses: form.errors.some(({ field }) => field === 'reason'),
    gives: form.errors.some(({ field }) => field === 'lot' || field === 'onRack'),
    why: row.leftOut === null ? '' : (leftOutWords[row.leftOut as keyof typeof leftOutWords] ?? row.leftOut),
    others: others
      .filter(({ lotId }) => lotId !== lot.id)
      .map(({ code, ownCode, kind, slots }) => ({
        value: code,
        text: `${ownCode === '' ? code : ownCode}, ${kind} in ${slots}`,
      })),
  };
  return showPage(service, request, reply, 'stock/rack-photograph-lot', data, {
    title: `${lot.code} in a photograph`,
    area: 'racks',
    form,
  });
}

const hrefOf = (request: FastifyRequest) => `/rack-photograph-lots/${rowId(request)}`;

async function postRefusal(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: refusalBody,
    act: (work, { reason }) => refuseMeasure(work, rowId(request), reason),
    done: ({ code }) => ({
      to: hrefOf(request),
      notice: `What this photograph measured of ${code} no longer counts.`,
    }),
    again: (form) => showLot(service, request, reply, form),
  });
}

async function postCounting(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: countingBody,
    act: (work) => countAgain(work, rowId(request)),
    done: ({ code }) => ({
      to: hrefOf(request),
      notice: `What this photograph measured of ${code} counts again.`,
    }),
    again: (form) => showLot(service, request, reply, form),
  });
}

async function postLot(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: lotBody,
    act: (work, { lot }) => giveToLot(work, rowId(request), lot),
    done: ({ code, changed }) => ({
      to: hrefOf(request),
      notice: changed ? `The two lots changed places: this is ${code} now.` : `This is ${code} now.`,
    }),
    again: (form) => showLot(service, request, reply, form),
  });
}
