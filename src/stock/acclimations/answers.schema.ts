import { z } from 'zod';
import { day, id, moment } from '../../platform/door/answer-parts.ts';
import { nextCursor } from '../../platform/door/pages.ts';

/** Light in mol/(m2 d) (dli) and umol/(m2 s) (par). */
const acclimation = z.object({
  siteId: id,
  timeZone: z.string(),
  name: z.string(),
  purpose: z.enum(['brighter', 'dimmer', 'recovery']),
  received: z.enum(['unknown', 'stated', 'measured', 'here']),
  fromDli: z.number(),
  targetDli: z.number(),
  maxStepRatio: z.number(),
  dwellDays: z.number(),
  reason: z.string(),
  startsOn: day,
  by: z.string().nullable(),
  pausedAt: moment.nullable(),
  pauseReason: z.string().nullable(),
  endReason: z.string().nullable(),
  lots: z.array(
    z.object({
      id,
      code: z.string(),
      kind: z.string(),
      pieces: z.number(),
    }),
  ),
  steps: z.array(
    z.object({
      dueOn: day,
      dli: z.number(),
      par: z.number().nullable(),
      lotId: id.nullable(),
      code: z.string().nullable(),
      slotIds: z.array(id),
      place: z.string(),
      systemId: id.nullable(),
      lampId: id.nullable(),
      lamp: z.string().nullable(),
      percent: z.number().nullable(),
      doneBy: z.string().nullable(),
      note: z.string(),
      id,
      position: z.number(),
      doneAt: moment.nullable(),
      leftOutAt: moment.nullable(),
    }),
  ),
  id,
  createdAt: moment,
  endedAt: moment.nullable(),
  version: z.number(),
});

export const acclimationsAnswer = z.object({ acclimations: z.array(acclimation), next: nextCursor });

/** One, with the steps that come next and what holds each back. */
export const acclimationAnswer = acclimation.extend({
  next: z.array(
    z.object({
      id,
      dueOn: day,
      held: z
        .object({
          words: z.string(),
          todo: z.enum(['wait', 'look', 'resume', 'choose', 'leave-out']),
        })
        .nullable(),
    }),
  ),
});

/** What would be planned, kept by nobody yet; `seen` goes back with the plan. */
export const draftAnswer = z.object({
  lots: z.array(
    z.object({
      id,
      code: z.string(),
    }),
  ),
  seen: z.string(),
  purpose: z.enum(['brighter', 'dimmer', 'recovery']),
  received: z.enum(['unknown', 'stated', 'measured', 'here']),
  pace: z.object({
    stepRatio: z.number(),
    dwellDays: z.number(),
    adaptationDays: z.number(),
  }),
  fromDli: z.number(),
  targetDli: z.number(),
  target: z.string(),
  steps: z.array(
    z.object({
      position: z.number(),
      day: z.number(),
      dli: z.number(),
      par: z.number().nullable(),
      lotId: id.nullable(),
      code: z.string(),
      slotIds: z.array(id),
      place: z.string(),
      gap: z
        .object({
          low: z.number(),
          high: z.number(),
          next: z
            .object({
              slotIds: z.array(id),
              name: z.string(),
              par: z.number(),
              parMax: z.number(),
              dli: z.number(),
              dliMax: z.number(),
            })
            .nullable(),
        })
        .nullable(),
      times: z.number().nullable(),
      lampId: id.nullable(),
      percent: z.number().nullable(),
    }),
  ),
  days: z.number(),
  notes: z.array(z.string()),
});

export const ofAcclimation = z.object({ acclimationId: id });

/** A step as it was done. */
export const recordedAnswer = ofAcclimation.extend({ systemId: id, what: z.string() });

/** Done; there is nothing more to say. */
export const nothing = z.object({});
