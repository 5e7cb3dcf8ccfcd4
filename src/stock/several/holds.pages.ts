import type { FastifyInstance } from 'fastify';
import { localDay } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { plural } from '../../platform/words/numbers.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { gateRefusals } from '../pests/gate.ts';
import { holdSchema, usualHoldDays } from '../sales/holds.schema.ts';
import { addHolds, holdRefusal } from '../sales/holds.ts';
import { type SeveralForm, severalForm } from './several-form.ts';

/** Holding pieces of several lots for one buyer. */
export function severalHoldPages(app: FastifyInstance, service: Service): void {
  severalForm(app, service, holdForm);
}

const pieceWords = (pieces: number) => plural(pieces, 'piece', 'pieces');

const holdForm: SeveralForm<ReturnType<typeof holdSchema>> = {
  path: '/stock/several/hold',
  view: 'stock/several-hold',
  area: 'stock',
  title: (count) => `Hold pieces of ${plural(count, 'lot', 'lots')}`,
  button: 'Hold them',
  schema: ({ timeZone, now }) => holdSchema(localDay(now, timeZone)),
  fresh: ({ timeZone, now }) => ({
    pieces: 1,
    buyer: '',
    until: localDay(daysAfter(now, usualHoldDays), timeZone),
    note: '',
    despite: '',
  }),
  outcomes: async (_, reader, lots, value) => {
    const gate = await gateRefusals(reader, lots, 'hold', value?.despite ?? '');
    return lots.map((lot) => {
      const pieces = value?.pieces ?? 1;
      const free = lot.pieces - lot.held;
      const words = value === null ? `${pieceWords(free)} free` : `${pieceWords(pieces)} of ${free} free`;
      const refused = lot.pieces === 0 ? 'No pieces are left.' : holdRefusal(lot, pieces);
      return { refused: refused || (gate.get(lot.id) ?? ''), words };
    });
  },
  act: async (work, _, lots, value) => {
    await addHolds(
      work,
      lots.map(({ id, code }) => ({ ...value, lotId: id, code })),
    );
  },
  done: (_, count, { pieces, buyer }) => ({
    notice: `${pieceWords(pieces)} of each of ${plural(count, 'lot', 'lots')} held for ${buyer}.`,
  }),
};
