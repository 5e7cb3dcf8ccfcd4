import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { readerOf } from '../../platform/database/sql-reader.ts';
import type { Service } from '../../platform/service.ts';
import { choice, text } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { piecesOfLots } from '../base/lot-lock.ts';
import { causeChoices, lossCause } from '../losses/losses.schema.ts';
import { countLots } from '../lots/ledger.ts';
import type { TickedLot } from '../lots/ticked-lots.ts';
import { gateRefusals } from '../pests/gate.ts';
import { type SeveralForm, severalForm } from './several-form.ts';

/** Taking all pieces of several lots off the count. */
export function retirementPages(app: FastifyInstance, service: Service): void {
  severalForm(app, service, retirementForm);
}

const retirementSchema = (timeZone: string, now: Date) =>
  z.object({
    reason: choice(['lost', 'recount'], 'Choose what happened.'),
    cause: lossCause(),
    note: text('the reason', 500),
    at: pastMoment(timeZone, now),
  });

const reasons = [
  {
    value: 'lost',
    text: 'Lost',
    hint: 'died, broke, given away or thrown out. What was sold is an order: tick the lots and choose “Order”.',
  },
  { value: 'recount', text: 'Not there', hint: 'the count was wrong: there are none' },
];

/** Why a lot cannot be retired; `there` is its count at that time, null while no time can be read. */
function refusalOf({ pieces, held }: TickedLot, there: number | null): string {
  if (pieces === 0) return 'No pieces are left.';
  if (held > 0) return `${plural(held, 'piece is', 'pieces are')} held for a buyer. Release the hold first.`;
  return there === null || there === pieces ? '' : 'Its count changed after that time. Enter a later one.';
}

const retirementForm: SeveralForm<ReturnType<typeof retirementSchema>> = {
  path: '/stock/several/retirement',
  view: 'stock/several-retirement',
  area: 'stock',
  title: (count) => `Retire ${plural(count, 'lot', 'lots')}`,
  button: 'Take all pieces off the count',
  schema: ({ timeZone, now }) => retirementSchema(timeZone, now),
  fresh: () => ({ reason: '', cause: '', note: '', at: '' }),
  data: () => ({ reasons, causes: causeChoices }),
  outcomes: async (_, reader, lots, value) => {
    const ids = lots.map(({ id }) => id);
    const there = value === null ? null : await piecesOfLots(reader, ids, value.at);
    const given = value?.cause === 'given_away';
    const gate = given ? await gateRefusals(reader, lots, 'sale', value.note) : new Map<string, string>();
    return lots.map((lot) => {
      const refused = refusalOf(lot, there === null ? null : (there.get(lot.id) ?? 0));
      const place = lot.place === '' ? '' : `; ${lot.place} becomes free`;
      const words = `${numberWords(lot.pieces)} to 0 pieces${place}`;
      return { refused: refused || (gate.get(lot.id) ?? ''), words };
    });
  },
  act: async (work, _, lots, { reason, cause, note, at }) => {
    const there = await piecesOfLots(
      readerOf(work.tx),
      lots.map(({ id }) => id),
      at,
    );
    const counts = lots.map(({ id, code }) => ({ lotId: id, code, change: -(there.get(id) ?? 0), left: 0 }));
    await countLots(work, counts, { reason, cause, note, at });
  },
  done: (_, count) => ({ notice: `All pieces of ${plural(count, 'lot', 'lots')} are off the count.` }),
  unticks: true,
};
