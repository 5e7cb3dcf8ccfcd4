import { libraryKinds } from '../../seed/library.ts';
import type { Care } from '../../src/stock/kinds/care.ts';
import { placeCare } from '../../src/watch/facts/place-care.ts';
import type { ConditionFact, LightFact, LotFact, RackFact } from '../../src/watch/facts/types.ts';
import { blankLot, dayZero, madeId, onDay } from './facts.ts';

const kinds = new Map(libraryKinds().map((kind) => [kind.code, kind]));

/** A lot of a kind of the care library, with that kind's care. */
export function lotOf(code: string, known: Partial<LotFact> = {}): LotFact {
  const kind = kinds.get(code);
  if (kind === undefined) throw new Error(`the library has no ${code}`);
  const figures = Object.entries(kind.care).map(([name, { low, high, words, basis, source }]) => [
    name,
    { low: low ?? null, high: high ?? null, words: words ?? null, basis, source, from: 'group' },
  ]);
  const care = placeCare(Object.fromEntries(figures) as Care);
  return blankLot({ kindName: kind.name, kindIds: [kind.code, kind.group], care, ...known });
}

/** From a day of the world on a lot stands in this light, lit as nine hours of it. */
export const light = (day: number, par: number, more: Partial<LightFact> = {}): LightFact => ({
  fromDay: dayZero + day,
  par,
  dli: par * 0.0324,
  error: 3,
  estimated: false,
  ...more,
});

/** How a lot looked on a day of the world. */
export const look = (
  day: number,
  state: ConditionFact['state'],
  grade: number | null = null,
): ConditionFact => ({
  id: madeId(),
  day: dayZero + day,
  at: onDay(day).toISOString(),
  state,
  compared: null,
  grade,
  note: '',
});

/** A rack of slots 60 mm apart, 220 mm deep in a tank of 380 mm, surveyed on day 0. */
export const blankRack = (known: Partial<RackFact> = {}): RackFact => ({
  id: 'rack',
  name: 'N3',
  tankName: 'Raceway 1',
  tankHeightMm: 380,
  lampId: null,
  depthMm: 220,
  slotWidthMm: 60,
  slotDepthMm: 60,
  standsDay: null,
  surveys: [survey(0, 90)],
  ...known,
});

/** A survey on a day of the world. */
export const survey = (
  day: number,
  par: number,
  percent: number | null = 60,
): RackFact['surveys'][number] => ({
  id: madeId(),
  day: dayZero + day,
  at: onDay(day).toISOString(),
  percent,
  meter: 'Quantum meter',
  par,
});
