import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { choice, optionalText, text, whole } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural, withSign } from '../../platform/words/numbers.ts';
import { lotHref } from '../base/lot-href.ts';
import { causeChoices, lossCause } from '../losses/losses.schema.ts';
import { lineToTakeBack, takeCountBack } from '../lots/counts-taken-back.ts';
import { COUNT_REASONS, countLot } from '../lots/ledger.ts';
import { sellSingle } from '../orders/single.ts';
import { type LotForm, lotForm } from './lot-form.ts';

/** Changes of a lot's count, and taking one back. */
export function ledgerPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, countForm);
  app.get('/counts/:id/voiding', (request, reply) => showVoiding(service, request, reply));
  app.post('/counts/:id/voiding', takes(voidingBody), (request, reply) =>
    postVoiding(service, request, reply),
  );
}

const reasons = [
  { value: 'lost', text: 'Lost', hint: 'died, broke or is missing' },
  { value: 'sold', text: 'Sold', hint: 'makes an order without a buyer; “Sell” keeps the buyer’s name' },
  { value: 'received', text: 'Received', hint: 'more pieces of the same origin' },
  { value: 'recount', text: 'Recount', hint: 'enter how many there are now' },
];

/** A change of a count, as forms and JSON bring it. */
const countSchema = (timeZone: string, now: Date) =>
  z
    .object({
      reason: choice(COUNT_REASONS, 'Choose what happened.'),
      pieces: whole({ what: 'how many pieces', low: 0, high: 100_000 }),
      cause: lossCause(),
      note: optionalText(),
      despite: optionalText(500),
      at: pastMoment(timeZone, now),
    })
    .refine(({ reason, pieces }) => reason === 'recount' || pieces > 0, {
      message: 'Enter at least one piece.',
      path: ['pieces'],
    });

const countForm: LotForm<ReturnType<typeof countSchema>, { pieces: number }> = {
  page: 'count',
  resource: 'ledger',
  gate: 'sale',
  view: 'stock/count',
  title: () => 'Count',
  schema: ({ timeZone, now }) => countSchema(timeZone, now),
  fresh: ({ request }) => ({
    reason: askedReason(request.query),
    pieces: '',
    cause: '',
    note: '',
    despite: '',
    at: '',
  }),
  data: () => ({ reasons, causes: causeChoices }),
  act: (work, { lot, timeZone }, { reason, cause, ...value }) => {
    const count = { lotId: lot.id, ...value };
    return reason === 'sold'
      ? sellSingle(work, timeZone, { ...count, buyer: '', tagId: null, holdId: null })
      : countLot(work, { ...count, reason, cause });
  },
  done: ({ pieces }, { lot }) => ({
    to: lotHref(lot.code),
    notice:
      pieces === 0
        ? `No pieces of ${lot.code} are left.`
        : `${lot.code} is ${plural(pieces, 'piece', 'pieces')} now.`,
  }),
};

function askedReason(query: unknown): string {
  const { reason = '' } = (query ?? {}) as { reason?: string };
  return COUNT_REASONS.find((known) => known === reason) ?? '';
}

async function showVoiding(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ reason: '' }),
) {
  const id = pathId(request, 'id', 'This change of the count');
  const { change, reason, at, note, lot } = await lineToTakeBack(service.db, id);
  const words = reasons.find(({ value }) => value === reason)?.text ?? 'Counted';
  const data = {
    ...{ code: lot.code, words: `${words}, ${signed(change)}`, at, note },
    heading: 'Take back a change of the count',
    lead: 'It stays in the record, struck through. The count is as if it had not been entered, and no loss is told of it.',
    action: `/counts/${id}/voiding`,
    persons: `/persons/ledger_entry/${id}`,
  };
  return showPage(service, request, reply, 'stock/voiding', data, {
    title: data.heading,
    area: 'stock',
    form,
  });
}

const signed = (change: number) => withSign(change, plural(Math.abs(change), 'piece', 'pieces'));

const voidingBody = z.object({ reason: text('why it is void') });

async function postVoiding(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This change of the count');
  return submit(request, reply, {
    schema: voidingBody,
    act: (work, { reason }) => takeCountBack(work, id, reason),
    done: ({ code, pieces }) => ({
      to: lotHref(code),
      notice: `Taken back. ${pieces === 0 ? `${code} has no pieces.` : `${code} is ${plural(pieces, 'piece', 'pieces')} now.`}`,
    }),
    again: (form) => showVoiding(service, request, reply, form),
  });
}
