import { z } from 'zod';
import { day, id, moment } from '../../platform/door/answer-parts.ts';
import { nextCursor } from '../../platform/door/pages.ts';

const routine = z.object({
  id,
  systemId: id,
  systemName: z.string(),
  systemVolumeL: z.number(),
  timeZone: z.string(),
  plan: z.union([
    z.object({
      work: z.literal('test'),
      quantityCode: z.string(),
    }),
    z.object({
      work: z.literal('water_change'),
      volumeL: z.number(),
    }),
    z.object({
      work: z.literal('dose'),
      substance: z.string(),
      amount: z.number(),
      unit: z.enum(['g', 'mL', 'L', 'kg', 'drops']),
    }),
    z.object({
      work: z.literal('feeding'),
      food: z.string(),
      amountG: z.number().nullable(),
      tankId: id.nullable(),
      pumpsOffMin: z.number().nullable(),
    }),
  ]),
  quantity: z
    .object({
      code: z.string(),
      name: z.string(),
    })
    .nullable(),
  tank: z.string().nullable(),
  everyDays: z.number(),
  weekdays: z.array(z.number()),
  startsOn: day,
  endedAt: moment.nullable(),
  version: z.number(),
  lastAt: moment.nullable(),
  dueOn: day,
  lastOn: day.nullable(),
});

/** A page of the routines of a system: those that go on, then those that ended within a year. */
export const routinesAnswer = z.object({
  running: z.array(routine),
  ended: z.array(routine),
  next: nextCursor,
});

/** What goes wrong, and how soon tests tell it: days, and canonical units a day. */
const trouble = z.object({
  kind: z.string(),
  perDay: z.number(),
  harmsAfter: z.number(),
  isHarmKnown: z.boolean(),
  bound: z.number(),
  toldByAlkalinity: z.boolean(),
  toldNow: z.number().nullable(),
  toldProposed: z.number().nullable(),
});

/** How often each quantity of a system is worth testing; what cannot be worked out says why. */
export const scheduleAnswer = z.object({
  systemId: id,
  tests: z.array(
    z.object({
      quantityCode: z.string(),
      unit: z.string(),
      routineId: id.nullable(),
      version: z.number().nullable(),
      everyDays: z.number().nullable(),
      proposedEveryDays: z.number(),
      minutesAWeek: z.number(),
      proposedMinutesAWeek: z.number(),
      isLate: z.boolean(),
      troubles: z.array(trouble),
      means: z.array(z.string()),
    }),
  ),
  unknown: z.array(z.string()),
  basis: z.string(),
});
