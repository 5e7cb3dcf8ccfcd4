import type { FastifyRequest } from 'fastify';

/**
 * Where a form leads once it is done, for whoever came to it from somewhere else in the house (`back` in the address,
 * then in the form): a path of this service, or null. Addresses elsewhere are not followed.
 */
export function backOf(request: FastifyRequest): string | null {
  const given = { ...(request.query as object), ...(request.body as object | undefined) } as {
    back?: unknown;
  };
  return addressWithin(given.back);
}

/**
 * An address of this service, path and query, or null where the text would lead elsewhere: "//other.example", a
 * backslash or a tab that a browser leaves out, a whole address.
 */
export function addressWithin(text: unknown): string | null {
  if (typeof text !== 'string' || !text.startsWith('/')) return null;
  const here = 'http://here.invalid';
  if (!URL.canParse(text, here)) return null;
  const { origin, pathname, search } = new URL(text, here);
  return origin === here && !pathname.startsWith('//') ? `${pathname}${search}` : null;
}
