import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { optionalText } from '../../platform/web/fields.ts';
import { inputMoment, statedMoment } from '../../platform/web/moments.ts';
import { lotHref } from '../base/lot-href.ts';
import { type LotForm, lotForm } from '../lot-page/lot-form.ts';
import type { DependsOnLot } from './dependents.ts';
import { correctArrival, dependsOnArrival, readArrival } from './received-date.ts';

/** Correcting when a lot came. */
export function receivedDatePages(app: FastifyInstance, service: Service, dependsOnLot: DependsOnLot): void {
  lotForm(app, service, receivedForm(dependsOnLot));
}

const receivedSchema = (timeZone: string, now: Date) =>
  z.object({ at: statedMoment('when it came', timeZone, now), reason: optionalText(500) });

const receivedForm = (dependsOnLot: DependsOnLot): LotForm<ReturnType<typeof receivedSchema>, unknown> => ({
  page: 'received',
  resource: 'received',
  view: 'stock/received',
  title: () => 'Correct the date received',
  schema: ({ timeZone, now }) => receivedSchema(timeZone, now),
  fresh: ({ lot, timeZone }) => ({ at: inputMoment(lot.arrivedAt, timeZone), reason: '' }),
  data: async ({ service, lot }) => {
    const arrival = await readArrival(service.pool, lot.id);
    return { arrival, rests: await dependsOnArrival(service.pool, lot.id, arrival, dependsOnLot) };
  },
  act: (work, { lot }, value) => correctArrival(work, lot.id, value, dependsOnLot),
  done: (_, { lot }) => ({
    to: lotHref(lot.code),
    notice: `The date ${lot.code} was received is corrected.`,
  }),
});
