import type { Amount, Evidence } from '../../../alerts/finding.ts';
import { mmWords } from '../../../platform/units/measures.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import { dateWords } from '../../../platform/words/times.ts';
import { nameInSentence } from '../../../water/quantities/name.rules.ts';
import { sayReading, show } from '../../../water/quantities/quantities.ts';
import { momentOfDay, type QuantityFact, type ReadingFact, type SystemFacts } from '../../facts/types.ts';

/** A canonical value of a quantity as the farm writes it. */
export function amount(quantity: QuantityFact, label: string, value: number): Amount {
  return { label, value, ...show(quantity, value) };
}

/** A plain number with its unit. */
export function figure(label: string, value: number, decimals: number, unit = ''): Amount {
  return { label, value, text: numberWords(value, decimals), unit };
}

/** Minutes are read at a glance up to here; beyond it hours are. */
const mostMinutes = 180;

/** Less than a minute is said so; none at all is 0. */
const underAMinute = (minutes: number) => (minutes > 0 && minutes < 0.5 ? { text: 'under 1' } : {});

/** A length of time, in minutes or hours. */
export const lengthFigure = (label: string, minutes: number): Amount =>
  minutes <= mostMinutes
    ? { ...figure(label, Math.round(minutes), 0, 'min'), ...underAMinute(minutes) }
    : figure(label, Math.round(minutes / 60), 0, 'h');

/** A small length, with its unit. */
export const smallLength = (label: string, mm: number): Amount => ({
  ...{ label, value: mm },
  ...{ text: mmWords(mm), unit: '' },
});

/** A quantity's facts; without them nothing is said about it. */
export function quantityNamed(facts: SystemFacts, code: string): QuantityFact {
  const quantity = facts.quantities.get(code);
  if (quantity === undefined) throw new Error(`the farm has no quantity ${code}`);
  return quantity;
}

/** "9 Jan 2027", by the site's clock. */
export const dateOfDay = (day: number, facts: Pick<SystemFacts, 'timeZone'>): string =>
  dateWords(momentOfDay(day), facts.timeZone);

/**
 * Since when something is so, by the readings that bound it: the last before it and the first of it. Without one before it
 * may have begun earlier.
 */
export function sinceWords(
  before: number | null,
  first: number,
  facts: Pick<SystemFacts, 'timeZone'>,
): string {
  const began = dateOfDay(first, facts);
  if (before === null) return `since ${began} or earlier`;
  const last = dateOfDay(before, facts);
  return last === began ? `since ${began}` : `since between ${last} and ${began}`;
}

/** "12 %". */
export const percent = (share: number): string => `${numberWords(Math.round(share * 100))} %`;

/** Where a figure comes from that was tuned on simulated systems; DEVELOPERS.md tells of the study. */
export const study = 'study on simulated systems';

/** Readings as evidence, newest first. */
export function readingEvidence(
  quantity: QuantityFact,
  readings: readonly ReadingFact[],
  note = '',
): Evidence[] {
  return readings
    .map(
      (reading): Evidence => ({
        kind: 'reading',
        id: reading.id,
        at: reading.at,
        text: sayReading(quantity, reading),
        note: [note, trustNote(reading)].filter((text) => text !== '').join('; '),
      }),
    )
    .reverse();
}

function trustNote({ trust }: ReadingFact): string {
  return trust === 'plain' ? '' : trust;
}

/** A whole number. */
export const numberOf = (value: number): string => numberWords(Math.round(value));

/** A quantity's name as it stands in a sentence. */
export const nameOf = (facts: SystemFacts, code: string): string =>
  nameInSentence(quantityNamed(facts, code).name);
