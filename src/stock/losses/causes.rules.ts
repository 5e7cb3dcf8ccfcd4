import type { LossCause } from '../../generated/prisma/enums.ts';

/** Why pieces were lost, as a choice: what is seen most first. Trade words; no diagnosis is asked for. */
export const LOSS_CAUSES: readonly { value: LossCause; text: string; hint: string }[] = [
  { value: 'unknown', text: 'Not known', hint: '' },
  { value: 'colour_gone', text: 'Bleached', hint: 'lost its colour, then died' },
  { value: 'flesh_gone', text: 'Lost its flesh', hint: 'receded, or went within hours or days' },
  { value: 'pest', text: 'Pest or grazing', hint: '' },
  { value: 'stung', text: 'Stung by a neighbour', hint: '' },
  { value: 'overgrown', text: 'Overgrown', hint: 'by algae, a sponge or a neighbour' },
  { value: 'silt', text: 'Silt on the flesh', hint: '' },
  { value: 'cut_not_healed', text: 'Did not heal after a cut', hint: '' },
  { value: 'light', text: 'Too much or too little light', hint: '' },
  { value: 'water', text: 'The water', hint: 'a level, a dose, something that fell in' },
  { value: 'heat_or_cold', text: 'Heat, cold or a stopped pump', hint: '' },
  { value: 'broken', text: 'Broken or fallen', hint: '' },
  { value: 'dead_on_arrival', text: 'Dead on arrival', hint: '' },
  { value: 'astray', text: 'Missing', hint: 'not found; nobody saw it die' },
  { value: 'given_away', text: 'Given away', hint: 'it was well; say to whom in the note' },
  { value: 'thrown_out', text: 'Thrown out', hint: 'it was well' },
  { value: 'other', text: 'Other', hint: 'say it in the note' },
];

/** The values of the choice. */
export const lossCauses = LOSS_CAUSES.map(({ value }) => value) as [LossCause, ...LossCause[]];

const words = new Map(LOSS_CAUSES.map(({ value, text }) => [value, text]));

/** A cause in words; one that nobody was asked for is not known. */
export const causeWords = (cause: LossCause | null): string => words.get(cause ?? 'unknown') ?? 'Not known';

/**
 * What says nothing of how the farm keeps its stock: dead on arrival is the journey's, and the others are no deaths.
 * They are left out where losses are compared with the past (own choice).
 */
export const NOT_THE_FARMS: readonly LossCause[] = [
  'dead_on_arrival',
  'astray',
  'given_away',
  'thrown_out',
  'broken',
];

/** Causes of pieces that were alive when they left the count. */
export const LEFT_ALIVE: readonly (LossCause | null)[] = ['given_away', 'thrown_out'];
