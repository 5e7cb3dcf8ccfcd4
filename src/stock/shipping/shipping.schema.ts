import { z } from 'zod';
import { optionalLength, optionalVolume } from '../../platform/web/fields/measures.ts';
import { choice, optionalNumber, optionalText, text, whole } from '../../platform/web/fields.ts';
import { PACKS, WALLS } from './box.rules.ts';
import { SOURCE_CODES } from './permits.rules.ts';
import type { NewShipment } from './shipments.ts';
import { optionalTemperature } from './temperatures.ts';

/** How pieces lie in their bags. */
export const METHODS = [
  { value: 'submerged', text: 'Under water in bags' },
  { value: 'damp', text: 'Damp, without water over them' },
  { value: 'other', text: 'Another way' },
] as const;

/** Choices of the box's walls, as a person reads them. */
export const WALL_CHOICES = [
  { value: 'foam', text: 'Foam, 25 mm (1 in) thick' },
  { value: 'thicker', text: 'Thicker foam' },
  { value: 'unknown', text: 'Other, or not known' },
] as const;

export const PACK_CHOICES = [
  { value: 'none', text: 'None' },
  { value: 'heat', text: 'Heat pack' },
  { value: 'cold', text: 'Cold pack' },
] as const;

/** The fields of a box. `unit`: in which temperatures are typed. */
export const boxFields = (unit: string) => ({
  wall: choice(WALLS, 'Choose what the box is made of.'),
  lengthMm: optionalLength('the length inside', 5, 200),
  widthMm: optionalLength('the width inside', 5, 200),
  bags: optionalNumber({ what: 'how many bags', low: 1, high: 500 }).pipe(
    z.number().int('Enter a whole number of bags.').nullable(),
  ),
  litresABag: optionalVolume({ what: 'the water in a bag', low: 0.01, high: 100 }),
  method: choice(['submerged', 'damp', 'other'], 'Choose how the pieces are packed.'),
  pack: choice(PACKS, 'Choose what warms or cools the box.'),
  carrier: optionalText(120),
  hours: optionalNumber({ what: 'the hours from door to door', low: 0.1, high: 240 }),
  startDegC: optionalTemperature('how warm the water is when it is packed', 5, 40, unit),
  coldestDegC: optionalTemperature('the coldest air on the way', -40, 60, unit),
  warmestDegC: optionalTemperature('the warmest air on the way', -40, 60, unit),
  claimHours: optionalNumber({ what: 'the hours for a claim', low: 0, high: 1000 }),
  boxDespite: optionalText(500),
});

type BoxFields = z.output<z.ZodObject<ReturnType<typeof boxFields>>>;

/** What was typed, as a box. Two temperatures of the air the wrong way round are put right. */
export function boxTyped(typed: BoxFields): NewShipment {
  const { boxDespite, coldestDegC: one, warmestDegC: other, ...box } = typed;
  const isTurned = one !== null && other !== null && one > other;
  const [coldestDegC, warmestDegC] = isTurned ? [other, one] : [one, other];
  const { wall, lengthMm, widthMm, bags, litresABag, method, pack, carrier, hours, startDegC, claimHours } =
    box;
  return {
    ...{ wall, lengthMm, widthMm, bags, litresABag, method, pack, carrier, hours, startDegC, claimHours },
    ...{ coldestDegC, warmestDegC, despite: boxDespite },
  };
}

/** One line of a permit. */
export const permitSchema = z.object({
  species: text('the species as the permit prints it', 200),
  permitPieces: whole({ what: 'how many pieces', low: 1, high: 100_000 }),
  document: text('the number of the document', 120),
  sourceCode: choice(SOURCE_CODES, 'Choose where they come from.'),
});
