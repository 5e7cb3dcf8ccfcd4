import type { SystemFacts } from '../../../src/watch/facts/types.ts';
import { blankSystem } from '../../watch/facts.ts';
import type { Logged } from './world.ts';

/** How far back the service loads what its rules judge (`src/watch/facts.ts`), days. */
const historyDays = 400;

/** What the service knows on a day: all that was written down in the `back` days up to it. */
export function factsAt(
  { code, readings, changes, makeUp }: Logged,
  today: number,
  back = historyDays,
): SystemFacts {
  const known = <T extends { day: number }>(all: readonly T[]) =>
    all.filter(({ day }) => day <= today && day > today - back);
  return blankSystem({
    readings: new Map([[code, known(readings)]]),
    changes: known(changes),
    kept: new Map([
      [code, { bandLow: null, bandHigh: null, limitHigh: null, makeUp, source: 'made for the bench' }],
    ]),
  });
}
