import type { FastifyInstance } from 'fastify';
import type { Service } from '../service.ts';

/**
 * For load balancers and container health checks. `/health/live`: the process answers. `/health/ready` (and `/health`):
 * the database answers too, so that the service can do its work.
 */
export function addHealth(app: FastifyInstance, service: Service): void {
  const open = { config: { access: 'public' as const, bare: true } };
  app.get('/health/live', open, (_, reply) => reply.send({ status: 'ok' }));
  for (const url of ['/health', '/health/ready']) {
    app.get(url, open, async (_, reply) => {
      const answers = await service.pool.query('SELECT 1').then(
        () => true,
        () => false,
      );
      if (answers) return reply.send({ status: 'ok' });
      return reply.status(503).header('retry-after', '5').send({ status: 'the database does not answer' });
    });
  }
}
