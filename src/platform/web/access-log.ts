import type { FastifyInstance } from 'fastify';

/**
 * One line of the log for each request: its id, method, route, status, time, and who asked. The route stands as it is
 * registered (`/t/:token`) and without its query, so that no secret and nothing that was typed gets into the log. The id
 * goes back with the answer, and stands on pages that say that something broke.
 */
export function addAccessLog(app: FastifyInstance): void {
  app.addHook('onRequest', async (request, reply) => {
    reply.header('x-request-id', request.id);
  });
  app.addHook('onResponse', async (request, reply) => {
    const { method, routeOptions, pageContext, machine } = request;
    request.log.info(
      {
        method,
        route: routeOptions.url ?? null,
        status: reply.statusCode,
        ms: Math.round(reply.elapsedTime * 10) / 10,
        account: pageContext?.person?.id ?? null,
        ...(machine === null ? {} : { accessKey: machine.id }),
      },
      'request',
    );
  });
}
