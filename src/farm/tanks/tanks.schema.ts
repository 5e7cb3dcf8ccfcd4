import { z } from 'zod';
import { number, optionalNumber, optionalText, text, tick, version } from '../../platform/web/fields.ts';

/** A length entered in centimetres, kept in whole millimetres. */
export const centimetres = (what: string, low: number, high: number) =>
  number({ what, low, high, unit: 'cm' }).transform((cm) => Math.round(cm * 10));

/** The same as an optional field. */
export const optionalCentimetres = (what: string, low: number, high: number) =>
  optionalNumber({ what, low, high, unit: 'cm' }).transform((cm) =>
    cm === null ? null : Math.round(cm * 10),
  );

export const tankSchema = z.object({
  name: text('a name', 60),
  lengthMm: centimetres('the length', 5, 5000),
  widthMm: centimetres('the width', 5, 5000),
  heightMm: centimetres('the height', 5, 1000),
  quarantine: tick(),
  note: optionalText(),
});

export const tankEditSchema = tankSchema.extend({ version: version() });

export type TankInput = z.output<typeof tankSchema>;
export type TankEdit = z.output<typeof tankEditSchema>;
