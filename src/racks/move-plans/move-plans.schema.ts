import { z } from 'zod';
import {
  choice,
  many,
  optionalChosen,
  optionalText,
  text,
  tick,
  version,
} from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';

/** One move of a plan; no slots: the lot is lifted out until its place is free. */
const moveSchema = z.object({
  lotId: z.uuid('Work the plan out again.'),
  slotIds: z.array(z.uuid('Work the plan out again.')).max(50),
  why: z.string().max(600),
});

const movesSchema = z.array(moveSchema).min(1, 'There is nothing to move.').max(5000);

/** A form sends the moves as one text. */
const movesField = z.preprocess((sent) => {
  if (typeof sent !== 'string') return sent;
  try {
    return JSON.parse(sent);
  } catch {
    return [];
  }
}, movesSchema);

/** A plan to be kept, as it was worked out. */
export const movePlanSchema = z.object({ name: text('a name for the plan', 120), moves: movesField });

export type MovePlanInput = z.output<typeof movePlanSchema>;

/** A move done; `despite`: why, while an alert is open on its water. */
export const moveDoneSchema = (timeZone: string, now: Date) =>
  z.object({ at: pastMoment(timeZone, now), note: optionalText(500), despite: optionalText(500) });

/** A move left out, with the reason. */
export const moveOmissionSchema = z.object({ omission: text('why it is left out', 500) });

/** A plan ended before all is done. */
export const planEndSchema = z.object({ version: version(), endReason: text('why it is ended', 500) });

/** Which lots are placed. */
export const PLACE_SETS = ['wrong', 'unplaced', 'rack', 'codes'] as const;
export type PlaceSet = (typeof PLACE_SETS)[number];

/** Codes as people type them, parted by anything but letters, numbers and hyphens. */
const codesIn = (typed: string) => [...new Set(typed.toUpperCase().match(/[A-Z0-9-]+/g) ?? [])];

/** What a plan is asked to do: which lots, on which racks, and whether others may make way. */
export const placementRequestSchema = z
  .object({
    which: choice(PLACE_SETS, 'Choose which lots are placed.'),
    emptyRack: optionalChosen(),
    codes: optionalText(20_000).transform(codesIn),
    use: many().pipe(z.array(z.uuid('Choose racks of the list.'))),
    makeWay: tick(),
  })
  .refine(({ which, emptyRack }) => which !== 'rack' || emptyRack !== null, {
    path: ['emptyRack'],
    message: 'Choose the rack to empty.',
  })
  .refine(({ which, codes }) => which !== 'codes' || codes.length > 0, {
    path: ['codes'],
    message: 'Enter the codes of the lots to place.',
  })
  .refine(({ use }) => use.length > 0, { path: ['use'], message: 'Tick the racks that may be used.' });

export type PlacementRequest = z.output<typeof placementRequestSchema>;
