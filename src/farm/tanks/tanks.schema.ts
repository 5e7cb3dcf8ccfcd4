import { z } from 'zod';
import { length } from '../../platform/web/fields/measures.ts';
import { optionalText, text, tick, version } from '../../platform/web/fields.ts';

export const tankSchema = z.object({
  name: text('a name', 60),
  lengthMm: length('the length', 5, 5000),
  widthMm: length('the width', 5, 5000),
  heightMm: length('the height', 5, 1000),
  quarantine: tick(),
  ownWater: optionalText(300),
  note: optionalText(),
});

export const tankEditSchema = tankSchema.extend({ version: version(), sure: tick() });

export type TankInput = z.output<typeof tankSchema>;
export type TankEdit = z.output<typeof tankEditSchema>;
