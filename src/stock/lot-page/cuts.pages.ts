import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { many, optionalNumber, optionalText, whole } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { lotHref } from '../base/lot-href.ts';
import { cutHow, freshCutHow } from '../cutting/cut.schema.ts';
import { cutNotice } from '../cutting/cut-gate.ts';
import { cutLot, cutWords, splitLot } from '../cutting/cuts.ts';
import { cautionOf } from '../kinds/cautions.ts';
import { type LotForm, lotForm } from './lot-form.ts';

/** What makes new lots out of one: cutting it and splitting it. */
export function cutPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, cutForm);
  lotForm(app, service, splitForm);
}

const shared = (timeZone: string, now: Date) => ({
  pieces: whole({ what: 'how many pieces', low: 1, high: 10_000 }),
  note: optionalText(),
  at: pastMoment(timeZone, now),
  slot: many().pipe(z.array(z.uuid('Choose a slot on the rack.'))),
  despite: optionalText(500),
});

/** One cut, as forms and JSON bring it. */
const cutSchema = (timeZone: string, now: Date) =>
  z.object({
    ...shared(timeZone, now),
    usedUp: optionalNumber({ what: 'how many pieces were cut up whole', low: 0, high: 10_000 })
      .pipe(z.number().int('Enter whole pieces.').nullable())
      .transform((pieces) => pieces ?? 0),
    ...cutHow,
  });

type NewLotResult = { id: string; code: string };

const cutForm: LotForm<ReturnType<typeof cutSchema>, NewLotResult> = {
  page: 'cut',
  resource: 'cuts',
  view: 'stock/cut',
  title: () => 'Cut',
  schema: ({ timeZone, now }) => cutSchema(timeZone, now),
  fresh: () => ({ pieces: '', usedUp: '', ...freshCutHow, note: '', at: '', despite: '' }),
  data: async ({ service, lot, now }) => ({
    caution: await cautionOf(service.pool, lot.id),
    gate: await cutNotice(service.pool, lot.id, now),
    known: await cutWords(service.pool, lot.siteId),
  }),
  act: (work, { lot }, { slot, ...value }) => cutLot(work, { fromLotId: lot.id, slotIds: slot, ...value }),
  done: ({ code }) => ({ to: `${lotHref(code)}/card` }),
};

const splitSchema = (timeZone: string, now: Date) => z.object(shared(timeZone, now));

const splitForm: LotForm<ReturnType<typeof splitSchema>, NewLotResult> = {
  page: 'split',
  resource: 'splits',
  view: 'stock/split',
  title: () => 'Split',
  schema: ({ timeZone, now }) => splitSchema(timeZone, now),
  gate: 'move',
  fresh: () => ({ pieces: '', note: '', at: '', despite: '' }),
  act: (work, { lot }, { slot, ...value }) => splitLot(work, { fromLotId: lot.id, slotIds: slot, ...value }),
  done: ({ code }) => ({ to: `${lotHref(code)}/card` }),
};
