import { rememberedSource } from '../../alerts/unchecked.rules.ts';
import type { Care, CareValue } from '../../stock/kinds/care.ts';
import type { PlaceCareFact } from './types.ts';

/** What a lot's care says of its place and of the nitrate in its water. */
export function placeCare(care: Care): PlaceCareFact {
  const [ceiling, ratio, days, reach] = [
    high(care, 'par_ceiling'),
    high(care, 'step_ratio'),
    high(care, 'adaptation_days'),
    high(care, 'reach_mm'),
  ];
  return {
    ceiling: ceiling && { par: ceiling.high, source: ceiling.source },
    stepRatio: ratio && { ratio: ratio.high, source: ratio.source },
    adaptationDays: days && { days: days.high, source: days.source },
    reach: reach && { mm: reach.high, source: reach.source },
    range: rangeOf(care, 'par_range'),
    nitrate: rangeOf(care, 'nitrate'),
    flow: flowOf(care),
    jet: words(care, 'jet'),
    base: words(care, 'base'),
  };
}

/** Where a figure comes from; one from memory says so, whatever its words. */
const sourceOf = ({ basis, source }: CareValue): string =>
  basis === 'from_memory' ? rememberedSource(source) : source;

function high(care: Care, name: string) {
  const value = care[name];
  return value === undefined || value.high === null ? null : { high: value.high, source: sourceOf(value) };
}

function words(care: Care, name: string) {
  const value = care[name];
  return value === undefined || value.words === null ? null : { words: value.words, source: sourceOf(value) };
}

function rangeOf(care: Care, name: string): PlaceCareFact['range'] {
  const value = care[name];
  return value === undefined ? null : { low: value.low, high: value.high, source: sourceOf(value) };
}

function flowOf({ flow: value }: Care): PlaceCareFact['flow'] {
  if (value === undefined || value.low === null || value.high === null) return null;
  return { low: value.low, high: value.high, source: sourceOf(value) };
}
