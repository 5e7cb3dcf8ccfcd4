import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { causeChoices } from '../losses/losses.schema.ts';
import { existingCode, findLot } from '../lots/lots.ts';
import { freeSlots } from '../places/free-slots.ts';
import { reasonsFor } from './counts.rules.ts';
import { askedOf, nameFound, settleDifference, takeSettlementBack } from './differences.ts';
import { findStocktake, lotsOf, racksOf, stocktakeOfLine } from './state.ts';
import { nameSchema, settleSchema } from './stocktakes.schema.ts';
import { differenceRow, lotLine, reasonWords, stocktakeHref } from './stocktakes.words.ts';

/** One difference of a stocktake: what it was, which lot it is, and taking that back. */
export function differencePages(app: FastifyInstance, service: Service): void {
  app.get('/stock/stocktakes/lines/:id', (request, reply) => show(service, request, reply));
  app.post('/stock/stocktakes/lines/:id', takes(settleSchema), (request, reply) =>
    postSettle(service, request, reply),
  );
  app.post('/stock/stocktakes/lines/:id/name', takes(nameSchema), (request, reply) =>
    postName(service, request, reply),
  );
  app.post('/stock/stocktakes/lines/:id/take-back', takes(takeBackBody), (request, reply) =>
    postTakeBack(service, request, reply),
  );
}

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This count');

async function show(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ as: '', cause: '', buyer: '', note: '', slot: '', despite: '', code: '' }),
) {
  const { pool } = service;
  const id = idOf(request);
  const of = await stocktakeOfLine(pool, id);
  if (of === null) throw notFound('This count');
  const stocktake = await findStocktake(pool, of.stocktakeId);
  const [rack] = (await racksOf(pool, stocktake.id)).filter((one) => one.id === of.rackId);
  const line = (await lotsOf(pool, stocktake, [of.rackId])).find((one) => one.lineId === id);
  if (rack === undefined || line === undefined) throw notFound('This count');
  const reasons = reasonsFor(askedOf(line));
  const placed = reasons.some((one) => one === 'moved' || one === 'split');
  const slots = placed ? await freeSlots(pool, rack.id, line.lotId ?? id, service.now()) : [];
  const { is } = line;
  const data = {
    id,
    crumbs: { href: stocktakeHref(stocktake.id), text: stocktake.name },
    rack: rack.name,
    line: lotLine(line, rack, stocktake),
    row: is.state === 'differs' ? differenceRow(line, rack, stocktake, undefined) : null,
    isOpen: stocktake.closedAt === null,
    isNamed: line.lotId !== null,
    reasons: reasons.map((value) => ({ value, ...reasonWords[value] })),
    hasLost: reasons.includes('lost'),
    hasSold: reasons.includes('sold'),
    causes: causeChoices,
    placed,
    slots: slots.map(({ id: value, name }) => ({ value, text: name })),
    asksDespite: form.errors.some(({ field }) => field === 'despite') || Boolean(form.typed.despite),
  };
  return showPage(service, request, reply, 'stock/stocktake-line', data, {
    title: `${data.line.name}: ${stocktake.name}`,
    area: 'stock',
    form,
  });
}

async function postSettle(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: settleSchema,
    act: (work, said) => settleDifference(work, request.site.timeZone, id, said),
    done: ({ stocktakeId, words }, { as }) => ({
      to: `${stocktakeHref(stocktakeId)}#differences`,
      notice: words,
      ...(['moved', 'split', 'sold'].includes(as) ? {} : { undo: `/stock/stocktakes/lines/${id}/take-back` }),
    }),
    again: (form) => show(service, request, reply, form),
  });
}

async function postName(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: nameSchema,
    act: async (work, { code }) => {
      const known = await existingCode(work.tx, request.site.id, code);
      if (known === null)
        throw new Refusal('No lot here has this code. Read it again, or take the lot in first.', {
          field: 'code',
        });
      const lot = await findLot(work.tx, known, request.site.id);
      return nameFound(work, id, lot.id);
    },
    done: ({ stocktakeId }) => ({
      to: `${stocktakeHref(stocktakeId)}#differences`,
      notice: 'It counts as this lot.',
    }),
    again: (form) => show(service, request, reply, form),
  });
}

const takeBackBody = z.looseObject({});

async function postTakeBack(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: takeBackBody,
    act: (work) => takeSettlementBack(work, id),
    done: ({ stocktakeId }) => ({
      to: `${stocktakeHref(stocktakeId)}#differences`,
      notice: 'Taken back. The difference is open again.',
    }),
    again: (form) => show(service, request, reply, form),
  });
}
