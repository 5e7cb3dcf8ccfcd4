import { z } from 'zod';
import { figure, id, moment, severity } from '../platform/door/answer-parts.ts';

const points = z.array(z.object({ at: z.string(), value: z.number() }));

const band = z.object({ low: z.number().nullable(), high: z.number().nullable() });

/** A rack in small: the cells that an alert is about. */
const rack = {
  rows: z.number(),
  columns: z.number(),
  cells: z.array(z.object({ row: z.number(), column: z.number(), severity: z.string() })),
};

const content = z.object({
  site: z.string(),
  day: z.string(),
  late: z.string(),
  headline: z.string(),
  lead: z.string(),
  figures: z.array(figure).optional(),
  emergencies: z.array(
    z.object({
      id,
      title: z.string(),
      words: z.string(),
    }),
  ),
  alerts: z.array(
    z.object({
      id,
      severity: severity,
      title: z.string(),
      numbers: z.string(),
      why: z.string(),
      firstStep: z.string(),
      steps: z
        .array(
          z.object({
            text: z.string(),
            note: z.string(),
          }),
        )
        .optional(),
      said: z.array(figure).optional(),
      explains: z.number(),
      large: z
        .object({
          text: z.string(),
          unit: z.string(),
          more: z.string(),
        })
        .nullable()
        .optional(),
      picture: z
        .union([
          z.object({
            kind: z.literal('course'),
            points: points,
            stepped: z.boolean(),
            band: band.nullable(),
            since: z.string().nullable(),
            ahead: z
              .array(
                z.object({
                  at: z.string(),
                  value: z.number(),
                }),
              )
              .optional(),
            from: z.string(),
            to: z.string(),
            says: z.string(),
          }),
          z.object({
            kind: z.literal('pairs'),
            tests: z.array(
              z.object({
                truth: z.number(),
                shown: z.number(),
              }),
            ),
            says: z.string(),
          }),
          z.object({
            kind: z.literal('rack'),
            beside: z
              .array(
                z.object({
                  ...rack,
                }),
              )
              .optional(),
            says: z.string(),
            ...rack,
          }),
        ])
        .nullable()
        .optional(),
      button: z.string().optional(),
      about: z
        .object({
          systemId: id,
          quantity: z.string().nullable(),
        })
        .optional(),
      done: z
        .object({
          by: z.string(),
          at: z.string(),
        })
        .nullable()
        .optional(),
    }),
  ),
  putOff: z.array(
    z.object({
      id,
      title: z.string(),
      words: z.string(),
    }),
  ),
  changes: z.array(
    z.object({
      kind: z.string(),
      title: z.string(),
      alertId: id,
    }),
  ),
  systems: z.array(
    z.object({
      id,
      name: z.string(),
      words: z.string(),
      figures: z.array(figure).optional(),
      unknown: z.string().optional(),
      unconfirmed: z.boolean().optional(),
      band: band.nullable().optional(),
      trend: points,
    }),
  ),
  work: z.array(
    z.object({
      at: z.string(),
      where: z.string(),
      what: z.string(),
      short: z.string().optional(),
      count: z.number().optional(),
      who: z.string(),
      href: z.string(),
    }),
  ),
  stock: z.array(z.string()),
  ready: z.object({
    lots: z.number(),
    pieces: z.number(),
  }),
  notDone: z.array(z.string()),
  unknowns: z.array(
    z.object({
      text: z.string(),
      href: z.string(),
    }),
  ),
  gaps: z.array(z.object({ words: z.string(), severity: z.enum(['now', 'today']) })),
  backup: z
    .object({
      words: z.string(),
      late: z.boolean(),
    })
    .nullable(),
});

/** What a digest says, with when it was made, and when it was made before. */
export const digestAnswer = content.extend({
  madeAt: moment,
  version: z.number(),
  earlier: z.array(z.object({ madeAt: moment, content })),
});
