import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { text } from '../../platform/web/fields.ts';
import { showPage } from '../../platform/web/pages.ts';
import { lotHref } from '../base/lot-href.ts';
import { type CareValue, lotCare } from '../kinds/care.ts';
import { figureFormValues, figureView, missingFigures, requestedFigure } from '../kinds/care-figure-form.ts';
import { careLines, type FarmUnits, farmUnits } from '../kinds/care-figure-words.ts';
import { figureSchema } from '../kinds/care-figures.schema.ts';
import { FIGURES } from '../kinds/care-figures.ts';
import { dropFigure, type FigureEdit, figureStanding, setFigure } from '../kinds/care-overrides.ts';
import { findLot } from '../lots/lots.ts';
import { type LotForm, type LotFormContext, lotForm } from './lot-form.ts';

/** The care of one lot, and figures of its own over its kind's. */
export function carePages(app: FastifyInstance, service: Service): void {
  app.get('/stock/:code/care', (request, reply) => showCare(service, request, reply));
  lotForm(app, service, figureForm);
  lotForm(app, service, removalForm);
}

async function showCare(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const lot = await findLot(service.db, (request.params as { code: string }).code, request.site.id);
  const [all, units] = await Promise.all([
    lotCare(service.pool, { lotIds: [lot.id] }),
    farmUnits(service.pool),
  ]);
  const care = all.get(lot.id) ?? {};
  const data = {
    code: lot.code,
    kind: lot.kind,
    lines: careLines(care, units),
    missing: missingFigures(care),
  };
  return showPage(service, request, reply, 'stock/care', data, { title: `Care: ${lot.code}`, area: 'stock' });
}

async function figureNow({ service, lot, request }: LotFormContext): Promise<CareValue | undefined> {
  const care = await lotCare(service.pool, { lotIds: [lot.id] });
  return care.get(lot.id)?.[requestedFigure(request)];
}

const ownFigure = ({ lot, request }: LotFormContext) =>
  figureStanding({ lotId: lot.id }, requestedFigure(request));

const careHref = (code: string) => `${lotHref(code)}/care`;

const noUnits: FarmUnits = new Map();

const figureForm: LotForm<z.ZodType<Omit<FigureEdit, 'figure'>>, void> = {
  page: 'care/:figure',
  resource: 'care/:figure',
  view: 'stock/figure',
  title: ({ request }) => `${FIGURES[requestedFigure(request)].label}: this lot’s own`,
  schema: () => figureSchema('dwell_days', noUnits),
  schemaHere: async ({ service, request }) =>
    figureSchema(requestedFigure(request), await farmUnits(service.pool)),
  fresh: async (context) =>
    figureFormValues(
      requestedFigure(context.request),
      await figureNow(context),
      await farmUnits(context.service.pool),
    ),
  data: async (context) => {
    const figure = requestedFigure(context.request);
    const value = await figureNow(context);
    const view = figureView(figure, value, await farmUnits(context.service.pool));
    const action = `/lots/${context.lot.id}/care/${figure}`;
    const removal = value?.from === 'lot' ? `${careHref(context.lot.code)}/${figure}/removal` : '';
    return { ...view, action, removal, back: careHref(context.lot.code), for: context.lot.code };
  },
  over: ownFigure,
  act: (work, { lot, request }, value) =>
    setFigure(work, { lotId: lot.id }, { figure: requestedFigure(request), ...value }),
  done: (_, { lot, request }) => ({
    to: careHref(lot.code),
    notice: `${FIGURES[requestedFigure(request)].label}: ${lot.code} has its own figure now.`,
  }),
};

const removalSchema = z.object({ reason: text('why the kind’s figure holds again', 500) });

const removalForm: LotForm<typeof removalSchema, void> = {
  page: 'care/:figure/removal',
  resource: 'care/:figure/removal',
  view: 'stock/removal',
  title: ({ request }) => `Drop ${FIGURES[requestedFigure(request)].label.toLowerCase()}`,
  schema: () => removalSchema,
  fresh: () => ({ reason: '' }),
  data: ({ lot, request }) => ({
    action: `/lots/${lot.id}/care/${requestedFigure(request)}/removal`,
    back: careHref(lot.code),
    for: lot.code,
  }),
  over: ownFigure,
  act: (work, { lot, request }, { reason }) =>
    dropFigure(work, { lotId: lot.id }, requestedFigure(request), reason),
  done: (_, { lot }) => ({ to: careHref(lot.code), notice: 'The kind’s figure holds again.' }),
};
