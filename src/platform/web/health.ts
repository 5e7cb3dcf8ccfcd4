import type { FastifyInstance } from 'fastify';
import type { Service } from '../service.ts';

/** For load balancers and container health checks: is the process up, does the database answer. */
export function addHealth(app: FastifyInstance, service: Service): void {
  app.get('/health', { config: { access: 'public', bare: true } }, async (_, reply) => {
    await service.pool.query('SELECT 1');
    return reply.send({ status: 'ok' });
  });
}
