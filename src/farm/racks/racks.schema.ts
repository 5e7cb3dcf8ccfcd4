import { z } from 'zod';
import { length, optionalLength } from '../../platform/web/fields/measures.ts';
import {
  choice,
  optionalChosen,
  optionalNumber,
  optionalText,
  text,
  tick,
  version,
  whole,
} from '../../platform/web/fields.ts';

export const base = choice(['egg_crate', 'rock', 'sand'], 'Choose what the pieces sit on.');

const rackFields = z.object({
  name: text('a name', 40),
  rows: whole({ what: 'the rows', low: 1, high: 26 }),
  columns: whole({ what: 'the columns', low: 1, high: 40 }),
  depthMm: length('the depth', 0, 500),
  slopeDeg: optionalNumber({ what: 'the slope', low: -60, high: 60, unit: 'degrees' }).transform(
    (slope) => slope ?? 0,
  ),
  leftMm: optionalLength('the distance from the left', 0, 5000),
  backMm: optionalLength('the distance from the back', 0, 5000),
  slotWidthMm: optionalLength('the width of a slot', 0.5, 100),
  slotDepthMm: optionalLength('the depth of a slot', 0.5, 100),
  base,
  lampId: optionalChosen(),
  note: optionalText(),
  /** That it really lies so, although it sticks out of its tank or overlaps another. */
  sure: tick(),
});

interface Halves {
  leftMm: number | null;
  backMm: number | null;
  slotWidthMm: number | null;
  slotDepthMm: number | null;
}

/** A place needs both its distances, and a slot both its sizes. */
const inPairs = <T extends Halves>(schema: z.ZodType<T>) =>
  schema
    .refine(({ leftMm, backMm }) => (leftMm === null) === (backMm === null), {
      path: ['leftMm'],
      message: 'Enter both distances, from the left and from the back, or neither.',
    })
    .refine(({ slotWidthMm, slotDepthMm }) => (slotWidthMm === null) === (slotDepthMm === null), {
      path: ['slotWidthMm'],
      message: 'Enter both, the width and the depth of a slot, or neither.',
    });

/** How many alike are added: one where nothing is typed. */
const count = optionalNumber({ what: 'how many racks', low: 1, high: 60 })
  .default(1)
  .transform((typed) => Math.round(typed ?? 1));

export const rackSchema = inPairs(rackFields.extend({ count }));

/** Without a tank it stays in the one it is in. */
export const rackEditSchema = inPairs(
  rackFields.extend({
    version: version(),
    tankId: optionalChosen(),
    /** It hung so since the last change of how it hangs: that was entered wrong. */
    always: tick(),
  }),
);

export type RackInput = z.output<typeof rackSchema>;
export type RackEdit = z.output<typeof rackEditSchema>;
