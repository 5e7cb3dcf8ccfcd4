import { z } from 'zod';
import { nextCursor } from '../../platform/door/pages.ts';

/** Cuts of one group, and how they lived: the course of survival with its 95 % bounds. */
const group = z.object({
  name: z.string(),
  cuts: z.number(),
  pieces: z.number(),
  followed: z.number(),
  lost: z.number(),
  until: z.number(),
  curve: z.object({
    followed: z.number(),
    lost: z.number(),
    steps: z.array(
      z.object({
        time: z.number(),
        atRisk: z.number(),
        lost: z.number(),
        survival: z.number(),
        se: z.number().nullable(),
        low: z.number().nullable(),
        high: z.number().nullable(),
      }),
    ),
    median: z.object({
      time: z.number().nullable(),
      low: z.number().nullable(),
      high: z.number().nullable(),
    }),
  }),
  at: z.array(
    z
      .object({
        survival: z.number(),
        low: z.number().nullable(),
        high: z.number().nullable(),
      })
      .nullable(),
  ),
  tooFew: z.boolean(),
});

/** How long cut pieces lived, of all and by group (Kaplan and Meier; the log-rank test). */
export const survivalAnswer = z.object({
  by: z.string(),
  all: group,
  groups: z.array(group),
  next: nextCursor,
  logRank: z
    .object({
      chiSquare: z.number(),
      dof: z.number(),
      p: z.number(),
      groups: z.array(
        z.object({
          observed: z.number(),
          expected: z.number(),
        }),
      ),
    })
    .nullable(),
  standsOut: z
    .object({
      by: z.string(),
      name: z.string(),
      cuts: z.number(),
      lost: z.number(),
      expected: z.number(),
      p: z.number(),
      same: z.array(
        z.object({
          by: z.string(),
          name: z.string(),
        }),
      ),
    })
    .nullable(),
  tooFewToSay: z.boolean(),
  daysNotLookedAt: z.array(z.number()),
});
