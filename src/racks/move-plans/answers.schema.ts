import { z } from 'zod';
import { id, moment } from '../../platform/door/answer-parts.ts';
import { nextCursor } from '../../platform/door/pages.ts';

/** A plan of moves in their order; what a move waits for is said. */
export const movePlanAnswer = z.object({
  moves: z.array(
    z.object({
      waitsFor: z.string().nullable(),
      lotId: id,
      code: z.string(),
      kind: z.string(),
      slotIds: z.array(id),
      place: z.string(),
      stands: z.string(),
      systemId: id,
      systemName: z.string(),
      why: z.string(),
      by: z.string().nullable(),
      note: z.string(),
      taker: z
        .object({
          code: z.string(),
          place: z.string(),
          position: z.number().nullable(),
        })
        .nullable(),
      id,
      position: z.number(),
      doneAt: moment.nullable(),
      leftOutAt: moment.nullable(),
    }),
  ),
  name: z.string(),
  by: z.string().nullable(),
  endReason: z.string().nullable(),
  timeZone: z.string(),
  id,
  createdAt: moment,
  endedAt: moment.nullable(),
  version: z.number(),
});

export const movePlansAnswer = z.object({ plans: z.array(movePlanAnswer), next: nextCursor });

/** What would be planned, kept by nobody yet. */
export const draftAnswer = z.object({
  lines: z.array(
    z.object({
      number: z.number(),
      lotId: id,
      code: z.string(),
      href: z.string(),
      kind: z.string(),
      slotIds: z.array(id),
      from: z.string(),
      to: z.string(),
      how: z.enum(['waits', 'moves', 'lifted']),
      why: z.string(),
    }),
  ),
  chosen: z.number(),
  wrongBefore: z.number(),
  wrongAfter: z.number(),
  moved: z.number(),
  moves: z.array(
    z.object({
      lotId: id,
      slotIds: z.array(id),
      why: z.string(),
    }),
  ),
  nowhere: z.array(
    z.object({
      code: z.string(),
      href: z.string(),
      kind: z.string(),
      stands: z.string(),
      wrong: z.array(z.string()),
      miss: z.array(z.string()),
    }),
  ),
  nowhereMore: z.number(),
  locked: z.array(
    z.object({
      code: z.string(),
      href: z.string(),
      kind: z.string(),
      why: z.string(),
    }),
  ),
  doubts: z.array(z.string()),
});

/** A move as it was done. */
export const recordedAnswer = z.object({ planId: id, systemId: id, what: z.string() });
