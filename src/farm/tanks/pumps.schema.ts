import { z } from 'zod';
import { optionalNumber, optionalText, text, tick, version } from '../../platform/web/fields.ts';
import { optionalCentimetres } from './tanks.schema.ts';

export const pumpSchema = z
  .object({
    name: text('a name', 60),
    leftMm: optionalCentimetres('the distance from the left', 0, 5000),
    backMm: optionalCentimetres('the distance from the back', 0, 5000),
    depthMm: optionalCentimetres('the depth', 0, 1000),
    facingDeg: optionalNumber({ what: 'the direction', low: 0, high: 359, unit: 'degrees' }),
    runs: optionalText(200),
    note: optionalText(),
  })
  .refine(({ leftMm, backMm }) => (leftMm === null) === (backMm === null), {
    path: ['leftMm'],
    message: 'Enter both distances, from the left and from the back, or neither.',
  });

export const pumpEditSchema = pumpSchema.and(z.object({ removed: tick(), version: version() }));

export type PumpInput = z.output<typeof pumpSchema>;
export type PumpEdit = z.output<typeof pumpEditSchema>;
