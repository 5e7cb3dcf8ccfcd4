import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { chosen, optionalText } from '../../platform/web/fields.ts';
import { checked } from '../../platform/web/json.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { findWaterSystem } from './systems.ts';

/** Three months: what a chart of tests shows at a glance; own choice. */
const usualDays = 90;

/** From when to when, as a query says it for the document. */
export const period = ({ timeZone, now }: { timeZone: string; now: Date }) => {
  const past = pastMoment(timeZone, now);
  return z.object({ from: past.optional(), to: past.optional() });
};

/** From when to when, as the query says; the last ninety days when it does not. @throws Refusal naming the field */
export function readPeriod(service: Service, request: FastifyRequest): { from: Date; to: Date } {
  const [now, { timeZone }] = [service.now(), request.site];
  const past = pastMoment(timeZone, now);
  const usual = daysBefore(now, usualDays).toISOString();
  return checked(z.object({ from: past, to: past }), { from: usual, ...(request.query as object) });
}

const query = z.object({
  systemId: chosen('Name the system.'),
  quantityCode: optionalText(40),
  voided: optionalText(5),
});

/** The query of whatever is read of one system over a time. */
export const systemAndPeriod = (sample: Parameters<typeof period>[0]) => query.extend(period(sample).shape);

/** Of which system, over which time, and whether voided entries are wanted. @throws Refusal naming the field; 404 */
export async function readSystemAndPeriod(service: Service, request: FastifyRequest) {
  const { voided, ...asked } = checked(query, request.query);
  await findWaterSystem(service.db, asked.systemId);
  return { ...asked, ...readPeriod(service, request), withVoided: voided === 'yes' };
}
