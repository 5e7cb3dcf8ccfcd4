import { z } from 'zod';
import { choice, many, optionalChosen, optionalText, tick } from '../platform/web/fields.ts';

/** Which lots are placed. */
export const PLACE_SETS = ['wrong', 'unplaced', 'rack', 'codes'] as const;
export type PlaceSet = (typeof PLACE_SETS)[number];

/** Codes as people type them, parted by anything but letters, numbers and hyphens. */
const codesIn = (typed: string) => [...new Set(typed.toUpperCase().match(/[A-Z0-9-]+/g) ?? [])];

/** What a plan is asked to do: which lots, on which racks, and whether others may make way. */
export const placementWishSchema = z
  .object({
    which: choice(PLACE_SETS, 'Choose which lots are placed.'),
    emptyRack: optionalChosen(),
    codes: optionalText(20_000).transform(codesIn),
    use: many().pipe(z.array(z.uuid('Choose racks of the list.'))),
    makeWay: tick(),
  })
  .refine(({ which, emptyRack }) => which !== 'rack' || emptyRack !== null, {
    path: ['emptyRack'],
    message: 'Choose the rack that is to be emptied.',
  })
  .refine(({ which, codes }) => which !== 'codes' || codes.length > 0, {
    path: ['codes'],
    message: 'Enter the codes of the lots that are to be placed.',
  })
  .refine(({ use }) => use.length > 0, { path: ['use'], message: 'Tick the racks that may be used.' });

export type PlacementWish = z.output<typeof placementWishSchema>;
