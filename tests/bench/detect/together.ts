import { quantities } from '../../../seed/library.ts';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { movingTogether } from '../../../src/watch/facts/together.rules.ts';
import type { MoveFact } from '../../../src/watch/facts/types.ts';
import { usualSwing } from '../../../src/water/quantities/usual-swing.ts';

/** Where each stands in calm water, and what one test of it errs by; canonical. */
const calm: Readonly<Record<string, { level: number; error: number }>> = {
  ph: { level: 8.2, error: 0.03 },
  temperature: { level: 25, error: 0.2 },
  salinity: { level: 35, error: 0.3 },
  alkalinity: { level: 3, error: 0.07 },
  oxygen: { level: 6.8, error: 0.3 },
};
const known = new Map(quantities().map((quantity) => [quantity.code, quantity]));
/** The fewest that a farm has by default, as the rule's setting says. */
const fewest = 3;
const [remembered, slips, slipSds] = [10, 0.015, 6];

/** How often calm systems of one site were told to move together, and how often such a matter was told when one began. */
export function togetherIn(systems: number, days: number, seed: number, rougher: number) {
  const random = seededRandom(seed);
  const told = { falsely: 0, seen: 0, seenNext: 0, tried: 0 };
  for (const [code, { level, error }] of Object.entries(calm)) {
    const quantity = known.get(code);
    if (quantity === undefined) throw new Error(`no quantity ${code}`);
    const swing = usualSwing(code, level, quantity);
    const sd = Math.hypot(error, swing);
    const one = () => {
      const slip = random.uniform() < slips ? slipSds * sd * (random.uniform() < 0.5 ? -1 : 1) : 0;
      return level + rougher * sd * random.normal() + slip;
    };
    const past: number[][] = Array.from({ length: systems }, () => Array.from({ length: remembered }, one));
    let wasTold = false;
    let waits = false;
    for (let day = 0; day < days; day += 1) {
      const today = past.map(one);
      const isTold = movingTogether(moves(code, today, past, error), known, fewest).length > 0;
      if (isTold && !wasTold) told.falsely += 1;
      wasTold = isTold;
      // Every twentieth day and the one after all are taken down by five deviations, on top of what they are.
      const sunk = (values: readonly number[]) => values.map((value) => value - 5 * sd);
      if (day % 20 === 0) {
        told.tried += 1;
        waits = movingTogether(moves(code, sunk(today), past, error), known, fewest).length === 0;
        if (!waits) told.seen += 1;
      } else if (day % 20 === 1 && waits) {
        const sunkBefore = past.map(([newest = level, ...older]) => [...sunk([newest]), ...older]);
        if (movingTogether(moves(code, sunk(today), sunkBefore, error), known, fewest).length > 0)
          told.seenNext += 1;
      }
      for (const [i, own] of past.entries()) {
        own.pop();
        own.unshift(today[i] ?? level);
      }
    }
  }
  return told;
}

const moves = (
  code: string,
  today: readonly number[],
  past: readonly (readonly number[])[],
  u: number,
): MoveFact[] =>
  today.map((value, i) => ({
    ...{ systemId: `${i}`, siteId: 'one', name: `${i}`, code, readingId: `${i}`, day: 0, at: '' },
    ...{ value, u, before: past[i] ?? [], kitId: null, kitLabel: '', probe: false, checkedDay: null },
    circuits: [],
  }));
