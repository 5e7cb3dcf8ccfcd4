import { z } from 'zod';
import { id, moment } from '../../platform/door/answer-parts.ts';

const reading = z.object({
  methodId: id.nullable(),
  method: z.string().nullable(),
  laboratory: z.string(),
  kit: z.string().nullable(),
  enteredText: z.string(),
  enteredUnit: z.string(),
  factor: z.number(),
  batch: z.string(),
  note: z.string(),
  by: z.string().nullable(),
  enteredAt: moment,
  hoursSinceDose: z.number().nullable(),
  settledById: id.nullable(),
  supersedesId: id.nullable(),
  voidedAt: moment.nullable(),
  voidReason: z.string().nullable(),
  id,
  systemId: id,
  quantityCode: z.string(),
  at: moment,
  value: z.number(),
  below: z.boolean(),
  above: z.boolean(),
  uncertainty: z.number(),
  kitId: id.nullable(),
  trust: z.enum(['plain', 'unconfirmed', 'confirmed', 'refuted']),
  trustReason: z.string(),
  corrected: z
    .object({
      value: z.number(),
      uncertainty: z.number(),
      bias: z.number(),
      biasSd: z.number(),
    })
    .nullable(),
});

export const readingsAnswer = z.object({ readings: z.array(reading) });

/** One quantity of a system in its canonical unit, with what it keeps. */
export const seriesAnswer = z.object({
  systemId: id,
  quantityCode: z.string(),
  unit: z.string(),
  displayUnit: z.string(),
  keeps: z.object({
    bandLow: z.number().nullable(),
    bandHigh: z.number().nullable(),
    limitHigh: z.number().nullable(),
    makeUp: z.number().nullable(),
    starting: z.boolean(),
  }),
  readings: z.array(reading),
});

const entered = z.object({
  id,
  quantityCode: z.string(),
  name: z.string(),
  said: z.string(),
  trust: z.enum(['plain', 'unconfirmed', 'confirmed', 'refuted']),
  reason: z.string(),
  advice: z.string(),
  caution: z.string(),
});

/** Readings as they were kept, with what was found at entry. */
export const enteredAnswer = z.object({ readings: z.array(entered) });

/** A reading that was moved: the systems by name, and how it was kept where it belongs. */
export const movedAnswer = z.object({ from: z.string(), to: z.string(), reading: entered });

/** Samples of a batch: what was kept, and each that was refused. */
export const samplesAnswer = z.object({
  kept: z.number(),
  unconfirmed: z.number(),
  refused: z.array(
    z.object({
      sample: z.number(),
      message: z.string(),
    }),
  ),
});
