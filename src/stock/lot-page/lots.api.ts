import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { conditionWords } from '../base/condition-states.rules.ts';
import { lotQuerySchema, newLotSchema } from '../lots/lots.schema.ts';
import { addLot, findLot, findLots } from '../lots/lots.ts';
import { newLotOf } from './lots.pages.ts';
import { lotRecord } from './record.ts';
import type { LotEventSource } from './timeline.ts';

/** Lots as JSON. What is done to a lot (placements, conditions, ledger, …) stands beside its form, by the same schema. */
export function lotApi(app: FastifyInstance, service: Service, others: readonly LotEventSource[]): void {
  app.get('/api/lots', (request) => getLots(service, request));
  app.get('/api/lots/:code', (request) => getLot(service, others, request));
  app.post('/api/lots', async (request, reply) => {
    const typed = checked(newLotSchema(request.site.timeZone, service.now()), request.body);
    const made = await request.change((work) => addLot(work, newLotOf(typed, request.site.id)));
    return reply.status(201).send(made);
  });
}

async function getLots(service: Service, request: FastifyRequest) {
  const { q: text, only, group: groupId, page } = lotQuerySchema.parse(request.query);
  return findLots(service.pool, { siteId: request.site.id, text, only, groupId, page }, service.now());
}

async function getLot(service: Service, others: readonly LotEventSource[], request: FastifyRequest) {
  const lot = await findLot(service.db, (request.params as { code: string }).code);
  const { page } = lotQuerySchema.parse(request.query);
  const record = await lotRecord(service, lot, page, 100, others);
  const { id, code, pieces, isMother, origin, permit, sizeMm, arrivedAt, note, version, kind, parent } = lot;
  const { staysPut, quarantineUntil } = lot;
  const { listed, care, light, ground, identification, alerts, children, timeline } = record;
  return {
    ...{ id, code, pieces, isMother, origin, permit, sizeMm, arrivedAt, note, version },
    ...{ staysPut, quarantineUntil: quarantineUntil?.toISOString().slice(0, 10) ?? null },
    kind: { id: kind.id, code: kind.code, name: kind.name, alsoCalled: kind.alsoCalled },
    parent: parent === null ? null : { id: parent.id, code: parent.code },
    children,
    identification: identification === null ? null : darwinCore(identification),
    place:
      ground === null
        ? null
        : { ...ground, systemId: listed.systemId, rackId: listed.rackId, words: listed.place },
    light: { now: light.now, accustomedMolM2Day: light.accustomed },
    care,
    alerts,
    events: timeline.events.map((event) =>
      event.type === 'condition'
        ? { ...event, words: conditionWords(event.detail.state, event.detail.grade) }
        : event,
    ),
    eventCount: timeline.total,
  };
}

function darwinCore(opinion: {
  scientificName: string;
  identificationQualifier: string;
  identifiedBy: string;
  dateIdentified: Date;
  identificationRemarks: string;
}) {
  const { scientificName, identificationQualifier, identifiedBy, identificationRemarks } = opinion;
  const dateIdentified = opinion.dateIdentified.toISOString().slice(0, 10);
  return { scientificName, identificationQualifier, identifiedBy, dateIdentified, identificationRemarks };
}
