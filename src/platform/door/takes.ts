import type { z } from 'zod';
import type { CurrentSite } from '../current-site.ts';

/** What a schema of a body may need to know, as it stands for any site. */
export interface Sample {
  timeZone: string;
  now: Date;
  /** A site's day, 2026-11-24. */
  today: string;
  site: CurrentSite;
}

/** The schema of a body; one that depends on the site or the time is made of a sample. */
export type Takes = z.ZodType | ((sample: Sample) => z.ZodType);

declare module 'fastify' {
  interface FastifyContextConfig {
    /** What its body is checked by, for the document of the doors. */
    takes?: Takes;
    /** What its query is checked by. */
    asks?: Takes;
    /** What it answers with. */
    answers?: z.ZodType;
    /** It takes one file beside its fields, under this name. */
    takesFile?: string;
  }
}

/** Says beside a route what its body is checked by: the schema that its handler uses. */
export const takes = (
  schema: Takes,
  more: { ofAFile?: boolean; repeatable?: boolean; withSecret?: boolean; answers?: z.ZodType } = {},
) => ({
  config: { takes: schema, ...more },
});

/** Says beside a route that reads what its query is checked by, and what it answers with. */
export const asks = (query: Takes, answer?: z.ZodType) => ({
  config: { asks: query, ...(answer === undefined ? {} : { answers: answer }) },
});

/** Says beside a route that asks nothing what it answers with. */
export const answers = (answer: z.ZodType) => ({ config: { answers: answer } });

/** The time now of every sample. */
export const sampleTime = new Date('2026-11-24T08:00:00Z');

/** An invented site. */
export const sampleSite: Sample['site'] = {
  id: '01931f0e-0000-7000-8000-000000000000',
  name: 'North hall',
  timeZone: 'UTC',
  currency: 'EUR',
  units: {},
  isOnlyOne: true,
  mayLeave: false,
};

/** The schema as it is for that site. */
export function schemaOf(takes: Takes): z.ZodType {
  if (typeof takes !== 'function') return takes;
  return takes({
    timeZone: 'UTC',
    now: sampleTime,
    today: sampleTime.toISOString().slice(0, 10),
    site: sampleSite,
  });
}
