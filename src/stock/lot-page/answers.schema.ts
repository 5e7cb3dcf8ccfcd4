import { z } from 'zod';
import { day, figure, id, moment, severity } from '../../platform/door/answer-parts.ts';

/** What every event of a lot's life has. */
const event = z.object({ id, at: moment, who: z.string().nullable(), note: z.string() });

const cell = z.object({ row: z.number(), column: z.number() });

/** One lot: what it is, where it stands, its light, its care and its life. */
export const lotAnswer = z.object({
  kind: z.object({
    id,
    code: z.string(),
    name: z.string(),
    alsoCalled: z.array(z.string()),
  }),
  parent: z
    .object({
      id,
      code: z.string(),
    })
    .nullable(),
  children: z.array(
    z.object({
      code: z.string(),
      pieces: z.number(),
    }),
  ),
  nextChildren: z
    .string()
    .nullable()
    .describe('The cursor of the next lots made of this one (childrenCursor); null at the end.'),
  identification: z
    .object({
      scientificName: z.string(),
      identificationQualifier: z.string(),
      identifiedBy: z.string(),
      dateIdentified: z.string(),
      identificationRemarks: z.string(),
    })
    .nullable(),
  place: z
    .object({
      systemId: id.nullable(),
      rackId: id.nullable(),
      words: z.string(),
      tankName: z.string(),
      flows: z.array(z.enum(['low', 'high', 'still', 'medium'])),
      bases: z.array(z.string()),
      jet: z.boolean(),
    })
    .nullable(),
  light: z.object({
    now: z
      .object({
        dli: z.number().nullable(),
        from: moment,
        to: moment.nullable(),
        par: z.number(),
        parMax: z.number(),
        error: z.number(),
        slotId: id,
        rackId: id,
        estimated: z.boolean(),
        hoursKnown: z.boolean(),
      })
      .nullable(),
    accustomedMolM2Day: z.number().nullable(),
    accustomedWords: z.string(),
  }),
  figures: z.array(
    z.union([
      figure,
      z.object({
        name: z.string(),
        of: z.string(),
        value: z.number(),
      }),
    ]),
  ),
  care: z.record(
    z.string(),
    z.object({
      low: z.number().nullable(),
      high: z.number().nullable(),
      words: z.string().nullable(),
      basis: z.enum(['published', 'computed', 'common_practice', 'from_memory', 'own_choice']),
      source: z.string(),
      from: z.enum(['lot', 'group', 'taxon']),
    }),
  ),
  seen: z.record(z.string(), z.string()),
  alerts: z.array(
    z.object({
      id,
      severity: severity,
      title: z.string(),
      openedAt: moment,
      putOffUntil: moment.nullable(),
      finding: z.looseObject({
        advice: z
          .array(
            z.object({
              phase: z.string(),
              text: z.string(),
              note: z.string().optional(),
              acts: z.array(
                z.object({
                  lever: z.string(),
                  direction: z.enum(['up', 'down', 'do', 'not up', 'hold']),
                  quantity: z.string(),
                  pace: z.enum(['', 'acute', 'slow']),
                }),
              ),
              free: z.boolean(),
              on: z
                .object({
                  type: z.string(),
                  id,
                })
                .optional(),
              waits: z.literal(true).optional(),
              added: z.literal(true).optional(),
              asks: z.enum(['doser', 'standard', 'stock', 'test']).optional(),
            }),
          )
          .nullable()
          .optional(),
        firstStep: z.string().optional(),
        numbers: z.string().optional(),
        why: z.string().optional(),
      }),
    }),
  ),
  events: z.array(
    z.union([
      event.extend({
        type: z.literal('ledger'),
        detail: z.object({
          change: z.number(),
          left: z.number(),
          reason: z.string(),
          cause: z.string().nullable(),
          voidReason: z.string().nullable(),
          isPart: z.boolean(),
          from: z.string().nullable(),
          into: z.string().nullable(),
          method: z.string().nullable(),
        }),
      }),
      event.extend({
        type: z.literal('placed'),
        detail: z.object({
          rack: z.string(),
          rackId: id,
          cells: z.array(cell),
        }),
      }),
      event.extend({
        type: z.literal('left'),
        detail: z.object({
          rack: z.string(),
          cells: z.array(cell),
        }),
      }),
      event.extend({
        type: z.literal('photo'),
        detail: z.object({
          voidReason: z.string().nullable(),
        }),
      }),
      event.extend({
        type: z.literal('identified'),
        detail: z.object({
          name: z.string(),
          qualifier: z.string(),
          by: z.string(),
          on: z.string(),
        }),
      }),
      event.extend({
        type: z.literal('cut_from'),
        detail: z.object({
          into: z.string(),
          pieces: z.number(),
          method: z.string(),
        }),
      }),
      event.extend({
        type: z.literal('tag'),
        detail: z.object({
          pieces: z.number(),
          tagId: id,
          withdrawn: z.string().nullable(),
        }),
      }),
      event.extend({
        type: z.literal('alert'),
        detail: z.object({
          title: z.string(),
          severity: severity,
          alertId: id,
          cleared: moment.nullable(),
        }),
      }),
      event.extend({
        words: z.string(),
        type: z.literal('condition'),
        detail: z.object({
          state: z.string(),
          grade: z.number().nullable(),
          compared: z.enum(['as_before', 'better', 'worse']).nullable(),
          voidReason: z.string().nullable(),
        }),
      }),
    ]),
  ),
  eventCount: z.number(),
  staysPut: z.boolean(),
  quarantineUntil: day.nullable(),
  ownCode: z.string(),
  tradeName: z.string(),
  price: z
    .object({
      minor: z.number(),
      currency: z.string(),
    })
    .nullable(),
  id,
  code: z.string(),
  pieces: z.number(),
  isMother: z.boolean(),
  origin: z.string(),
  permit: z.string(),
  sizeMm: z.number().nullable(),
  arrivedAt: moment,
  note: z.string(),
  version: z.number(),
});
