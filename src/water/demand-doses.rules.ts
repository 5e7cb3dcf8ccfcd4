import { CALCIUM_PER_ALKALINITY } from '../science/calcification.ts';

/** A dose as it is logged: for the first quantity that it raises. */
export interface LoggedDose {
  day: number;
  substance: string;
  quantityCode: string | null;
  rise: number | null;
}

/** Limewater brings as much calcium as calcification takes with its alkalinity. */
const lime = /limewater|calcium hydroxide|Ca\(OH\)2/i;

/** What the logged doses raise of one quantity, the calcium of limewater included although it is logged for alkalinity. */
export function risesOf(doses: readonly LoggedDose[], code: string): { day: number; rise: number }[] {
  return doses.flatMap(({ day, substance, quantityCode, rise }) => {
    if (rise === null) return [];
    if (quantityCode === code) return [{ day, rise }];
    const limed = code === 'calcium' && quantityCode === 'alkalinity' && lime.test(substance);
    return limed ? [{ day, rise: rise * CALCIUM_PER_ALKALINITY }] : [];
  });
}
