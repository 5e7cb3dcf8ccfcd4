import type { FastifyInstance, FastifyRequest } from 'fastify';
import { asks } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { conditionWords } from '../base/condition-states.rules.ts';
import { figuresSeen } from '../kinds/care-overrides.ts';
import { accustomedWords, lightFigure } from '../light/words.ts';
import { lotQuerySchema } from '../lots/lots.schema.ts';
import { findLot } from '../lots/lots.ts';
import { lotAnswer } from './answers.schema.ts';
import { lotRecord } from './record.ts';
import type { LotEventSource } from './timeline.ts';

/** One lot as JSON. What is done to a lot (placements, conditions, ledger, ...) stands beside its form, by the same schema. */
export function recordApi(app: FastifyInstance, service: Service, others: readonly LotEventSource[]): void {
  app.get('/api/lots/:code', asks(lotQuerySchema.pick({ page: true }), lotAnswer), (request) =>
    getLot(service, others, request),
  );
}

async function getLot(service: Service, others: readonly LotEventSource[], request: FastifyRequest) {
  const lot = await findLot(service.db, (request.params as { code: string }).code, request.site.id);
  const { page } = lotQuerySchema.parse(request.query);
  const { timeZone } = request.site;
  const [record, seen] = await Promise.all([
    lotRecord(service, lot, { page, perPage: 100, timeZone }, others),
    figuresSeen(service.db, lot.id),
  ]);
  const { id, code, pieces, isMother, origin, permit, sizeMm, arrivedAt, note, version, kind, parent } = lot;
  const used = accustomedWords(id, record.light, record.care.adaptation_days?.high ?? null, service.now());
  const { staysPut, quarantineUntil } = lot;
  const { listing, care, light, placeConditions, identification, alerts, children, timeline } = record;
  return {
    ...{ id, code, pieces, isMother, origin, permit, sizeMm, arrivedAt, note, version },
    ...{ ownCode: lot.ownCode, tradeName: lot.tradeName, price: listing.price },
    ...{ staysPut, quarantineUntil: quarantineUntil?.toISOString().slice(0, 10) ?? null },
    kind: { id: kind.id, code: kind.code, name: kind.name, alsoCalled: kind.alsoCalled },
    parent: parent === null ? null : { id: parent.id, code: parent.code },
    children,
    identification,
    place:
      placeConditions === null
        ? null
        : { ...placeConditions, systemId: listing.systemId, rackId: listing.rackId, words: listing.place },
    light: {
      now: light.now === null ? null : { ...light.now, dli: light.now.hoursKnown ? light.now.dli : null },
      accustomedMolM2Day: used.figure === null ? null : light.accustomed,
      accustomedWords: used.text,
    },
    figures: [
      { name: 'stock.pieces', of: id, value: pieces },
      ...(light.now === null ? [] : [lightFigure(id, light.now)]),
      ...(used.figure === null ? [] : [used.figure]),
    ],
    care,
    /** Goes along with a new value of one of its figures. */
    seen,
    alerts,
    events: timeline.events.map((event) =>
      event.type === 'condition'
        ? {
            ...event,
            words: conditionWords(event.detail.state, event.detail.grade, event.detail.compared),
          }
        : event,
    ),
    eventCount: timeline.total,
  };
}
