import type { FastifyContextConfig, FastifyInstance } from 'fastify';
import type { z } from 'zod';
import type { Takes } from './takes.ts';

/** A route as the document of the doors tells it. */
export interface CollectedRoute {
  method: 'GET' | 'POST' | 'PUT';
  /** As it is registered: "/water/kits/:id". */
  url: string;
  takes: Takes | null;
  asks: Takes | null;
  answers: z.ZodType | null;
  access: NonNullable<FastifyContextConfig['access']>;
  /** It takes a file beside its fields. */
  takesFile: boolean;
  /** The same twice changes nothing by itself. */
  isRepeatable: boolean;
}

/** Collects every route that is added from here on, with what it says of itself. */
export function collectRoutes(app: FastifyInstance): readonly CollectedRoute[] {
  const collected: CollectedRoute[] = [];
  app.addHook('onRoute', function ({ method, url, config = {} }) {
    for (const one of [method].flat())
      if (one === 'GET' || one === 'POST' || one === 'PUT')
        collected.push({
          method: one as CollectedRoute['method'],
          ...{ url, takes: config.takes ?? null, asks: config.asks ?? null, answers: config.answers ?? null },
          access: config.access ?? 'reader',
          takesFile: one === 'POST' && this.hasContentTypeParser('multipart/form-data'),
          isRepeatable: config.repeatable === true,
        });
  });
  return collected;
}
