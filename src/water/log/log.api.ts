import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { pageAsked, pageFields, pageOf } from '../../platform/door/pages.ts';
import { asks, type Takes, takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { chosen } from '../../platform/web/fields.ts';
import { checked } from '../../platform/web/json.ts';
import { readSystemAndPeriod, systemAndPeriod } from '../systems/period.ts';
import { logAnswers } from './answers.schema.ts';
import { logDose } from './doser-days.ts';
import { doseSchema, listDoses } from './doses.ts';
import { addFeeding, feedingSchema, listFeedings } from './feedings.ts';
import { type LogEntry, type LogPlace, placeOfEntry } from './log.ts';
import { addWaterChange, listWaterChanges, waterChangeSchema } from './water-changes.ts';

/** Water changes, doses and feedings as JSON, by the same operations as the pages. */
export function logApi(app: FastifyInstance, service: Service): void {
  logRoutes(app, service, 'water-changes', {
    schema: waterChangeSchema,
    add: addWaterChange,
    list: listWaterChanges,
  });
  logRoutes(app, service, 'doses', { schema: doseSchema, add: logDose, list: listDoses });
  logRoutes(app, service, 'feedings', { schema: feedingSchema, add: addFeeding, list: listFeedings });
}

const named = z.object({ systemId: chosen('Name the system.') });

/** One noun of the log: its list, and a new entry. */
interface LogNoun<S extends z.ZodType> {
  schema(timeZone: string, now: Date): S;
  add(work: Work, systemId: string, input: z.output<S>): Promise<object>;
  list(
    pool: Service['pool'],
    query: {
      systemId: string;
      from: Date;
      to: Date;
      withVoided: boolean;
      after: LogPlace | null;
      limit: number;
    },
  ): Promise<LogEntry[]>;
}

/** Years of a system's log in one answer, and still a small file; a doser fills it sooner (own choices). */
const bounds = { things: 'entries', most: 5000, usual: 5000 };

const logQuery: Takes = (sample) => systemAndPeriod(sample).extend(pageFields(bounds));

const placeSchema = z.tuple([z.iso.datetime(), z.uuid()]);

function logRoutes<S extends z.ZodType>(
  app: FastifyInstance,
  service: Service,
  path: keyof typeof logAnswers,
  noun: LogNoun<S>,
): void {
  app.get(`/api/${path}`, asks(logQuery, logAnswers[path].list), async (request) => {
    const asked = await readSystemAndPeriod(service, request);
    const paged = checked(z.object(pageFields(bounds)), request.query);
    const { after, limit } = pageAsked<LogPlace>(paged, placeSchema, bounds);
    const found = await noun.list(service.pool, { ...asked, after, limit: limit + 1 });
    const { some, next } = pageOf(found, limit, placeOfEntry);
    return { entries: some, next };
  });
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
