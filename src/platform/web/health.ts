import type { FastifyInstance } from 'fastify';
import { isScheduledWorkOverdue } from '../job-clock.ts';
import type { Service } from '../service.ts';

/**
 * For load balancers and container health checks. `/health/live`: the process answers. `/health/ready` (and `/health`):
 * the database answers too, and what is due by the clock is looked at, so that the service does its work.
 */
export function addHealth(app: FastifyInstance, service: Service): void {
  const open = { config: { bare: true } };
  app.get('/health/live', open, (_, reply) => reply.send({ status: 'ok' }));
  for (const url of ['/health', '/health/ready']) {
    app.get(url, open, async (_, reply) => {
      const status = await isScheduledWorkOverdue(service.pool).then(
        (overdue) => (overdue ? 'scheduled work is overdue' : 'ok'),
        () => 'the database does not answer',
      );
      return reply
        .status(status === 'ok' ? 200 : 503)
        .headers(status === 'ok' ? {} : { 'retry-after': '5' })
        .send({ status });
    });
  }
}
