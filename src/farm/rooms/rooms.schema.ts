import { z } from 'zod';
import { optionalLength } from '../../platform/web/fields/measures.ts';
import { text, tick, version } from '../../platform/web/fields.ts';
import { FURTHEST_CM } from './floor.rules.ts';

export const roomSchema = z.object({ name: text('a name', 60) });

/** Where a tank is to be, or null where it is to be in no room. */
export interface PlaceInput {
  tankId: string;
  at: { leftCm: number; backCm: number } | null;
  turned: boolean;
}

export interface RoomEdit {
  name: string;
  version: number;
  /** Tanks that nobody placed get the spots in which they are drawn. */
  placeRest: boolean;
  places: PlaceInput[];
}

const toCm = (mm: number) => Math.round(mm / 10);

/** The form of a room: its name, and left, back and turned for each tank that is in it or in none. */
export function roomEditSchema(tankIds: readonly string[]): z.ZodType<RoomEdit> {
  const fields = tankIds.flatMap((id) => [
    [`left_${id}`, optionalLength('how far it is from the left', 0, FURTHEST_CM)] as const,
    [`back_${id}`, optionalLength('how far it is from the back', 0, FURTHEST_CM)] as const,
    [`turned_${id}`, tick()] as const,
  ]);
  return z
    .object({ name: text('a name', 60), version: version(), rest: tick(), ...Object.fromEntries(fields) })
    .transform((typed, context): RoomEdit => {
      const {
        name,
        version: drawn,
        rest,
      } = typed as unknown as { name: string; version: number; rest: boolean };
      const values = typed as unknown as Record<string, number | boolean | null>;
      const places = tankIds.map((tankId) => {
        const [left, back] = [values[`left_${tankId}`], values[`back_${tankId}`]];
        const turned = values[`turned_${tankId}`] === true;
        if (typeof left === 'number' && typeof back === 'number')
          return { tankId, at: { leftCm: toCm(left), backCm: toCm(back) }, turned };
        if (left !== null || back !== null)
          context.addIssue({
            code: 'custom',
            path: [left === null ? `left_${tankId}` : `back_${tankId}`],
            message: 'Enter both distances, or leave both empty: the tank is then in no room.',
          });
        return { tankId, at: null, turned };
      });
      return { name, version: drawn, placeRest: rest, places };
    });
}
