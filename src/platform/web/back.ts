import type { FastifyRequest } from 'fastify';

const withinHouse = /^\/(?!\/)[\w/-]*$/;

/**
 * Where a form leads once it is done, for whoever came to it from somewhere else in the house (`back` in the address,
 * then in the form): a path of this service, or null. Addresses elsewhere are not followed.
 */
export function backOf(request: FastifyRequest): string | null {
  const given = { ...(request.query as object), ...(request.body as object | undefined) } as {
    back?: unknown;
  };
  return typeof given.back === 'string' && withinHouse.test(given.back) ? given.back : null;
}
