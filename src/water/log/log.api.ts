import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { asks, takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { chosen } from '../../platform/web/fields.ts';
import { checked } from '../../platform/web/json.ts';
import { readSystemAndPeriod, systemAndPeriod } from '../systems/period.ts';
import { logAnswers } from './answers.schema.ts';
import { addDose, doseSchema, listDoses } from './doses.ts';
import { addFeeding, feedingSchema, listFeedings } from './feedings.ts';
import { addWaterChange, listWaterChanges, waterChangeSchema } from './water-changes.ts';

/** Water changes, doses and feedings as JSON, by the same operations as the pages. */
export function logApi(app: FastifyInstance, service: Service): void {
  logRoutes(app, service, 'water-changes', {
    schema: waterChangeSchema,
    add: addWaterChange,
    list: listWaterChanges,
  });
  logRoutes(app, service, 'doses', { schema: doseSchema, add: addDose, list: listDoses });
  logRoutes(app, service, 'feedings', { schema: feedingSchema, add: addFeeding, list: listFeedings });
}

const named = z.object({ systemId: chosen('Name the system.') });

/** One noun of the log: its list, and a new entry. */
interface LogNoun<S extends z.ZodType> {
  schema(timeZone: string, now: Date): S;
  add(work: Work, systemId: string, input: z.output<S>): Promise<object>;
  list(
    pool: Service['pool'],
    query: { systemId: string; from: Date; to: Date; withVoided: boolean; limit: number },
  ): Promise<object[]>;
}

/** One answer holds at most this many entries: years of a system's log, and still a small file; own choice. */
const mostEntries = 5000;

function logRoutes<S extends z.ZodType>(
  app: FastifyInstance,
  service: Service,
  path: keyof typeof logAnswers,
  noun: LogNoun<S>,
): void {
  app.get(`/api/${path}`, asks(systemAndPeriod, logAnswers[path].list), async (request) => ({
    entries: await noun.list(service.pool, {
      ...(await readSystemAndPeriod(service, request)),
      limit: mostEntries,
    }),
  }));
  app.post(
    `/api/${path}`,
    takes(({ timeZone, now }) => named.and(noun.schema(timeZone, now)), { answers: logAnswers[path].kept }),
    async (request, reply) => {
      const { systemId } = checked(named, request.body);
      const input = checked(noun.schema(request.site.timeZone, service.now()), request.body);
      const result = await request.change((work) => noun.add(work, systemId, input));
      return reply.status(201).send(result);
    },
  );
}
