import { dayOf } from '../../../science/numeric/time.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { amount, dateOfDay, nameOf, quantityNamed } from '../shared/words.ts';

/** Own choice, by how fast each moves: a test of so many days counts as what the water is now. */
const countsFor: Readonly<Record<string, number>> = { nitrate: 7, alkalinity: 3 };

/** What late tests of a water tell of what sudden recession has to do with, and what is left to test. */
export interface WaterKnown {
  /** "nitrate 8 mg/L on 12 March"; '' where nothing is known to be in order. */
  inOrder: string;
  /** Names of what is to be looked at, as they go on in a sentence. */
  left: string[];
}

/** Nitrate and alkalinity: in order where a test of late that nobody doubts lies within the system's own band. */
export function waterKnown(facts: SystemFacts, now: Date): WaterKnown {
  const codes = Object.keys(countsFor);
  const known = new Map(codes.map((code) => [code, inBand(facts, code, now)]));
  return {
    inOrder: [...known.values()].filter((text) => text !== null).join(', '),
    left: codes.filter((code) => known.get(code) === null).map((code) => nameOf(facts, code)),
  };
}

function inBand(facts: SystemFacts, code: string, now: Date): string | null {
  const last = facts.readings.get(code)?.at(-1);
  const { bandLow = null, bandHigh = null } = facts.kept.get(code) ?? {};
  if (last === undefined || bandLow === null || bandHigh === null) return null;
  if (dayOf(now) - last.day > (countsFor[code] ?? 0) || last.below || last.above === true) return null;
  const isTrusted = last.trust === 'plain' || last.trust === 'confirmed';
  if (!isTrusted || last.value < bandLow || last.value > bandHigh) return null;
  const { text, unit } = amount(quantityNamed(facts, code), '', last.value);
  return `${nameOf(facts, code)} ${text} ${unit} on ${dateOfDay(last.day, facts)}`;
}
