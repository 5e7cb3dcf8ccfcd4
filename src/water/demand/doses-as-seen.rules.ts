import { memoizeWith } from '../../platform/memoize.ts';
import type { DoseFact, LookedFact } from '../record/types.ts';

/**
 * The doses with what truly went in where that was seen: between two looks into its container a doser gave what went out of it,
 * spread over its doses as they were told, and goes on giving as much until the next look. What nobody looked at stays as it was logged, and a person's dose is a person's.
 */
export const dosesAsSeen = memoizeWith(
  (doses: readonly DoseFact[], _looked: readonly LookedFact[]): object => doses,
  (doses: readonly DoseFact[], looked: readonly LookedFact[]): readonly DoseFact[] => {
    if (looked.length === 0) return doses;
    return doses.map((dose) => {
      const own = looked.filter(
        (one) => one.doserId === dose.doserId && one.quantityCode === dose.quantityCode,
      );
      const look = own.find(({ toDay }) => dose.day <= toDay) ?? own.at(-1);
      if (look === undefined || dose.rise === null || dose.day <= look.fromDay) return dose;
      return { ...dose, rise: dose.rise * look.factor };
    });
  },
);
