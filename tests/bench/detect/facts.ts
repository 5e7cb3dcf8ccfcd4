import type { SystemFacts } from '../../../src/watch/facts/types.ts';
import { blankSystem } from '../../watch/facts.ts';
import { kitsInUse } from './farm-world.ts';
import type { Logged } from './world.ts';

/** How far back the service loads what its rules judge (`src/watch/facts/facts.ts`), days. */
const historyDays = 400;

/** What the service knows on a day: all that was written down in the `back` days up to it. */
export function factsAt(
  { code, readings, changes, doses, makeUp, left = [], looked = [] }: Logged,
  today: number,
  back = historyDays,
): SystemFacts {
  const known = <T extends { day: number }>(all: readonly T[]) =>
    all.filter(({ day }) => day <= today && day > today - back);
  const read = known(readings);
  return blankSystem({
    readings: new Map([[code, read]]),
    changes: known(changes),
    doses: known(doses),
    left: known(left),
    looked: looked.filter(({ toDay }) => toDay <= today && toDay > today - back),
    kits: code === 'alkalinity' ? kitsInUse(code, read) : [],
    kept: new Map([
      [code, { bandLow: null, bandHigh: null, limitHigh: null, makeUp, source: 'made for the bench' }],
    ]),
  });
}
