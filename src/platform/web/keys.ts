import type { FastifyRequest } from 'fastify';

/** The access key of a request (`Authorization: Bearer ...`), or null where it sends none. */
export function bearerKey({ headers }: FastifyRequest): string | null {
  return /^Bearer\s+(\S+)$/i.exec(headers.authorization ?? '')?.[1] ?? null;
}
