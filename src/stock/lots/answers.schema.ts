import { z } from 'zod';
import { id, moment, severity } from '../../platform/door/answer-parts.ts';

/** Lots of one page of the stock. */
export const lotsAnswer = z.object({
  lots: z.array(
    z.object({
      id,
      code: z.string(),
      ownCode: z.string(),
      tradeName: z.string(),
      price: z
        .object({
          minor: z.number(),
          currency: z.string(),
        })
        .nullable(),
      kind: z.string(),
      group: z.string(),
      name: z.string(),
      pieces: z.number(),
      isMother: z.boolean(),
      systemId: id.nullable(),
      systemName: z.string(),
      rackId: id.nullable(),
      place: z.string(),
      drawn: z
        .object({
          rows: z.number(),
          columns: z.number(),
          cells: z.array(
            z.object({
              row: z.number(),
              column: z.number(),
            }),
          ),
        })
        .nullable(),
      face: z.object({
        photoId: id.nullable(),
        growthForm: z.string().nullable(),
      }),
      lastLook: z
        .object({
          at: moment,
          words: z.string(),
        })
        .nullable(),
      alerts: z.array(
        z.object({
          severity: severity,
          title: z.string(),
        }),
      ),
    }),
  ),
  total: z.number(),
  page: z.number(),
  perPage: z.number(),
});

export const madeLot = z.object({ id, code: z.string() });
