import { z } from 'zod';
import { choice, optionalChosen, optionalText, text, version, whole } from '../platform/web/fields.ts';
import { centimetres } from './tanks.schema.ts';

export const base = choice(['egg_crate', 'rock', 'sand'], 'Choose what the pieces stand on.');

export const rackSchema = z.object({
  name: text('a name', 40),
  rows: whole({ what: 'the rows', low: 1, high: 26 }),
  columns: whole({ what: 'the columns', low: 1, high: 40 }),
  depthMm: centimetres('the depth', 0, 500),
  base,
  lampId: optionalChosen(),
  note: optionalText(),
});

export const rackEditSchema = rackSchema.extend({ version: version() });

export type RackInput = z.output<typeof rackSchema>;
export type RackEdit = z.output<typeof rackEditSchema>;
