import { z } from 'zod';
import { choice, many, version } from '../../platform/web/fields.ts';
import { baseChoices, flowChoices, inStretch, stretchesOf } from './flow.rules.ts';
import { type RackSlot, slotName } from './slots.rules.ts';

interface Grid {
  rows: number;
  columns: number;
}

/** The new value of one slot. */
export interface SlotValue<V> {
  slotId: string;
  value: V;
}

/** The form that sets one property of slots: a value for each, and one more value for the slots picked or a stretch. */
function gridSchema<const T extends readonly [string, ...string[]]>(
  values: T,
  slots: readonly RackSlot[],
  grid: Grid,
) {
  const value = choice(values, 'Choose one of the list.');
  const stretches = ['', ...stretchesOf(grid).map((one) => one.value)] as [string, ...string[]];
  return z
    .object({
      version: version(),
      stretch: choice(stretches, 'Choose a row, a column or every slot.'),
      stretchValue: choice(['', ...values], 'Choose one of the list.'),
      picked: many(),
      ...Object.fromEntries(slots.map((slot) => [slotName(slot), value])),
    })
    .refine(
      ({ stretch, stretchValue, picked }) => (stretch === '' && picked.length === 0) || stretchValue !== '',
      {
        path: ['stretchValue'],
        message: 'Choose what they should have.',
      },
    )
    .transform((typed) => {
      const cells = typed as unknown as Record<string, T[number]>;
      const set = typed.stretchValue as T[number];
      return {
        version: typed.version,
        slots: slots.map(
          (slot): SlotValue<T[number]> => ({
            slotId: slot.slotId,
            value:
              inStretch(slot, typed.stretch) || typed.picked.includes(slotName(slot))
                ? set
                : (cells[slotName(slot)] as T[number]),
          }),
        ),
      };
    });
}

export const flowSchema = (slots: readonly RackSlot[], grid: Grid) => gridSchema(flowChoices, slots, grid);

export const baseSchema = (slots: readonly RackSlot[], grid: Grid) => gridSchema(baseChoices, slots, grid);
