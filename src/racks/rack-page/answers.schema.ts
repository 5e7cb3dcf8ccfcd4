import { z } from 'zod';
import { id, moment, severity } from '../../platform/door/answer-parts.ts';

/** A rack: its slots, what stands in each, and its light; par in umol/(m2 s), dli in mol/(m2 d). */
export const rackAnswer = z.object({
  light: z
    .object({
      surveyId: id,
      measuredAt: moment,
      readings: z.number(),
      surveyPercent: z.number().nullable(),
      widestError: z.number().nullable(),
      lampPercent: z.number().nullable(),
      lampSetAt: moment.nullable(),
      moved: z.boolean(),
      movedAt: moment.nullable(),
      deeperMm: z.number(),
      otherLamp: z.boolean(),
    })
    .nullable(),
  figures: z.array(
    z.object({
      name: z.string(),
      of: z.string(),
      value: z.number(),
    }),
  ),
  slots: z.array(
    z.object({
      id,
      name: z.string(),
      flow: z.enum(['low', 'high', 'still', 'medium']).nullable(),
      jet: z.boolean(),
      base: z.enum(['egg_crate', 'rock', 'sand']),
      light: z
        .object({
          par: z.number(),
          error: z.number(),
          dli: z.number().nullable(),
          measured: z.boolean(),
          estimated: z.boolean(),
        })
        .nullable(),
      lot: z
        .object({
          id,
          code: z.string(),
          ownCode: z.string(),
          kind: z.string(),
          pieces: z.number(),
          alert: z
            .object({
              id,
              rule: z.string(),
              severity: severity,
              title: z.string(),
            })
            .nullable(),
          look: z
            .object({
              state: z.string(),
              grade: z.number().nullable(),
              at: moment,
            })
            .nullable(),
          inSlotSince: moment,
          onFarmSince: moment,
        })
        .nullable(),
      row: z.number(),
      column: z.number(),
    }),
  ),
  id,
  name: z.string(),
  rows: z.number(),
  columns: z.number(),
  depthMm: z.number(),
  base: z.enum(['egg_crate', 'rock', 'sand']),
  tank: z.object({
    id,
    name: z.string(),
  }),
  system: z.object({
    id,
    name: z.string(),
  }),
  lamp: z
    .object({
      id,
      name: z.string(),
    })
    .nullable(),
});
