import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { choice, optionalText, whole } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { plural } from '../../platform/words/numbers.ts';
import { lotHref } from '../base/lot-href.ts';
import { causeChoices, lossCause } from '../losses/losses.schema.ts';
import { COUNT_REASONS, countLot } from '../lots/ledger.ts';
import { type LotForm, lotForm } from './lot-form.ts';

/** Changes of a lot's count. */
export function ledgerPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, countForm);
}

const reasons = [
  { value: 'lost', text: 'Lost', hint: 'died, broke or went astray' },
  { value: 'sold', text: 'Sold', hint: 'without a buyer’s name; “Sell” keeps one' },
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
      at: pastMoment(timeZone, now),
    })
    .refine(({ reason, pieces }) => reason === 'recount' || pieces > 0, {
      message: 'Enter at least one piece.',
      path: ['pieces'],
    });

const countForm: LotForm<ReturnType<typeof countSchema>, { pieces: number }> = {
  page: 'count',
  resource: 'ledger',
  view: 'stock/count',
  title: () => 'Count',
  schema: ({ timeZone, now }) => countSchema(timeZone, now),
  fresh: ({ request }) => ({ reason: askedReason(request.query), pieces: '', cause: '', note: '', at: '' }),
  data: () => ({ reasons, causes: causeChoices }),
  act: (work, { lot }, value) => countLot(work, { lotId: lot.id, ...value }),
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
