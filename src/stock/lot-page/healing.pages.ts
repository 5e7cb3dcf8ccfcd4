import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { optionalNumber, optionalText, whole } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { lotHref } from '../base/lot-href.ts';
import { cutView } from '../cutting/healing.pages.ts';
import { cutIntoLot, noteHealing } from '../cutting/healing.ts';
import { type LotForm, lotForm } from './lot-form.ts';

/** Counting the pieces of a cut. */
export function lotHealingPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, healingForm);
}

const some = (what: string) =>
  optionalNumber({ what, low: 0, high: 10_000 }).pipe(z.number().int('Enter whole pieces.').nullable());

/** What was counted, as forms and JSON bring it. */
const healingSchema = (timeZone: string, now: Date) =>
  z.object({
    alive: whole({ what: 'how many are alive', low: 0, high: 10_000 }),
    healed: some('how many have healed'),
    dead: some('how many are dead'),
    missing: some('how many you did not find'),
    note: optionalText(500),
    at: pastMoment(timeZone, now),
  });

const healingForm: LotForm<ReturnType<typeof healingSchema>, { id: string; words: string }> = {
  page: 'healing',
  resource: 'healing-looks',
  view: 'stock/healing',
  title: () => 'Cut pieces',
  schema: ({ timeZone, now }) => healingSchema(timeZone, now),
  fresh: () => ({ alive: '', healed: '', dead: '', missing: '', note: '', at: '' }),
  data: async ({ service, lot, timeZone, now }) => {
    const cut = await cutIntoLot(service.pool, lot.id);
    return { cut: cut === null ? null : cutView(cut, timeZone, now) };
  },
  act: (work, { lot }, value) => noteHealing(work, { intoLotId: lot.id }, value),
  done: ({ words }, { lot }) => ({
    to: `${lotHref(lot.code)}/healing`,
    notice: `Counted: ${words}.`,
  }),
};
