import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { pageAsked, pageFields, pageOf } from '../../platform/door/pages.ts';
import { asks } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { conditionWords } from '../base/condition-states.rules.ts';
import { figuresSeen } from '../kinds/care-overrides.ts';
import { accustomedWords, lightFigure } from '../light/words.ts';
import { type ChildPlace, childrenOf, placeOfChild } from '../lots/children.ts';
import { lotQuerySchema } from '../lots/lots.schema.ts';
import { findLot } from '../lots/lots.ts';
import { lotAnswer } from './answers.schema.ts';
import { lotRecord, shownChildren } from './record.ts';
import type { LotEventSource } from './timeline.ts';

/** One lot as JSON. What is done to a lot (placements, conditions, ledger, ...) stands beside its form, by the same schema. */
export function recordApi(app: FastifyInstance, service: Service, others: readonly LotEventSource[]): void {
  app.get('/api/lots/:code', asks(pageQuery, lotAnswer), (request) => getLot(service, others, request));
}

const bounds = { things: 'lots made of this one', most: 500, usual: shownChildren };

const { limit, cursor } = pageFields(bounds);

const pageQuery = lotQuerySchema
  .pick({ page: true })
  .extend({ childrenLimit: limit, childrenCursor: cursor });

const placeSchema = z.tuple([z.iso.datetime(), z.uuid()]);

async function getLot(service: Service, others: readonly LotEventSource[], request: FastifyRequest) {
  const lot = await findLot(service.db, (request.params as { code: string }).code, request.site.id);
  const { page, childrenLimit, childrenCursor } = checked(pageQuery, request.query);
  const made = pageAsked<ChildPlace>({ limit: childrenLimit, cursor: childrenCursor }, placeSchema, bounds);
  const { timeZone } = request.site;
  const [record, seen, children] = await Promise.all([
    lotRecord(service, lot, { page, perPage: 100, timeZone }, others),
    figuresSeen(service.db, lot.id),
    childrenOf(service.pool, lot.id, { ...made, limit: made.limit + 1 }),
  ]);
  const { some, next: nextChildren } = pageOf(children, made.limit, placeOfChild);
  const { id, code, pieces, isMother, origin, permit, sizeMm, arrivedAt, note, version, kind, parent } = lot;
  const used = accustomedWords(id, record.light, record.care.adaptation_days?.high ?? null, service.now());
  const { staysPut, quarantineUntil } = lot;
  const { listing, care, light, placeConditions, identification, alerts, timeline } = record;
  return {
    ...{ id, code, pieces, isMother, origin, permit, sizeMm, arrivedAt, note, version },
    ...{ ownCode: lot.ownCode, tradeName: lot.tradeName, price: listing.price },
    ...{ staysPut, quarantineUntil: quarantineUntil?.toISOString().slice(0, 10) ?? null },
    kind: { id: kind.id, code: kind.code, name: kind.name, alsoCalled: kind.alsoCalled },
    parent: parent === null ? null : { id: parent.id, code: parent.code },
    children: some.map(({ code, pieces }) => ({ code, pieces })),
    nextChildren,
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
