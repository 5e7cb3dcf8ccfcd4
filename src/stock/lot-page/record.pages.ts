import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { stepsOf } from '../../alerts/steps.ts';
import type { Service } from '../../platform/service.ts';
import { pagerOf } from '../../platform/views/pager.ts';
import { showPage } from '../../platform/web/pages.ts';
import { dateWords, whenWords } from '../../platform/words/times.ts';
import { lotHref } from '../base/lot-href.ts';
import { careLines } from '../kinds/care-figure-words.ts';
import { cautionIn } from '../kinds/cautions.ts';
import { scientificNameParts } from '../lots/identifications.ts';
import { lotQuerySchema } from '../lots/lots.schema.ts';
import { findLot } from '../lots/lots.ts';
import { ordersOfHolds } from '../orders/lot-orders.ts';
import { orderHref } from '../orders/view.ts';
import { originFacts, placeFacts } from './facts.ts';
import { life } from './life.ts';
import { lightChart } from './light-chart.ts';
import { type LighteningAskedOn, photographMeasures } from './photograph-measures.ts';
import { portrait } from './portrait.ts';
import { type LotRecord, lotRecord, type RecordAlert } from './record.ts';
import type { LotEventSource } from './timeline.ts';
import { timelineEntries } from './timeline-words.ts';

/** What areas above know of a lot. */
interface Above {
  lotEvents: readonly LotEventSource[];
  lighteningAskedOn: LighteningAskedOn;
}

/** One lot: what it is, where it stands, what is open, what happened to it. */
export function recordPages(app: FastifyInstance, service: Service, above: Above): void {
  app.get('/stock/:code', (request, reply) => showRecord(service, above, request, reply));
}

const perPage = 60;

async function showRecord(
  service: Service,
  { lotEvents, lighteningAskedOn }: Above,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  const typed = (request.params as { code: string }).code;
  const lot = await findLot(service.db, typed, request.site.id);
  if (lot.code !== typed) return reply.redirect(lotHref(lot.code), 303);
  const { page } = lotQuerySchema.parse(request.query);
  const { timeZone } = request.site;
  const record = await lotRecord(service, lot, { page, perPage, timeZone }, lotEvents);
  const caution = cautionIn(record.care);
  const data = {
    crumbs: [{ href: '/stock', text: 'Stock' }],
    lot: {
      id: lot.id,
      code: lot.code,
      ownCode: lot.ownCode,
      tradeName: lot.tradeName,
      kind: lot.kind.name,
      pieces: lot.pieces,
      wasCut: lot.cutInto !== null,
      acclimates: record.acclimation !== null,
    },
    name: nameOf(record, timeZone),
    nameNotes: record.nameNotes.map(({ what, text }) => ({
      text,
      asks: what === 'conflict' || what === 'spelling',
    })),
    alerts: record.alerts.map((alert) => alertRow(alert, timeZone, service.now())),
    caution: caution?.grave === true ? caution : null,
    portrait: portrait(record, timeZone, service.now()),
    promised: [...(await ordersOfHolds(service.pool, lot.id)).values()].map((order) => ({
      ...order,
      href: orderHref(order.id),
    })),
    emptied: record.toAsk === null ? null : { slots: record.toAsk.slots, back: lotHref(lot.code) },
    life: life(record, timeZone, service.now()),
    origin: originFacts(record, timeZone),
    place: placeFacts(record, service.now()),
    photographed: await photographMeasures(service.pool, lot.id, lighteningAskedOn, {
      timeZone,
      now: service.now(),
    }),
    light: lightChart(record, timeZone, service.now()),
    care: careLines(record.care, record.units),
    entries: timelineEntries(lotHref(lot.code), record.timeline.events, record.light.exposures, {
      moment: (at) => whenWords(at, timeZone, service.now()),
      day: (day) => dateWords(day, timeZone),
    }),
    pager: pagerOf(
      { page, perPage, total: record.timeline.total },
      (other) => `${lotHref(lot.code)}?page=${other}#history`,
    ),
  };
  return showPage(service, request, reply, 'stock/lot', data, { title: lot.code, area: 'stock' });
}

function nameOf({ identification, lot }: LotRecord, timeZone: string) {
  if (identification === null) return null;
  const { scientificName, identificationQualifier, identifiedBy, dateIdentified } = identification;
  const on = dateWords(dateIdentified, timeZone);
  const parts = scientificNameParts(scientificName, identificationQualifier);
  const differs = identificationQualifier !== '' || scientificName !== lot.kind.name;
  return { parts, differs, by: identifiedBy, on };
}

function alertRow(alert: RecordAlert, timeZone: string, now: Date) {
  const { id, severity, title, openedAt, putOffUntil, finding } = alert;
  const late = putOffUntil !== null && putOffUntil > now;
  return {
    severity,
    title,
    numbers: finding.numbers ?? '',
    why: finding.why ?? '',
    steps: stepsOf(finding),
    href: `/watch/${id}`,
    since: openedAt,
    more: late ? `Put off until ${dateWords(putOffUntil, timeZone)}` : '',
  };
}
