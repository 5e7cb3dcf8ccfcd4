import { median } from 'd3-array';
import { numberWords } from '../../platform/words/numbers.ts';
import { agoWords } from '../../platform/words/times.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { convertMeasure } from '../../science/units.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { type Quantity, say, sayBand, sayDifference, usualMiddle } from '../quantities/quantities.ts';
import { disagreementWords } from '../trust/disagreements.ts';
import { caps, isCorrectable } from './substances.rules.ts';

/** A dose as the check sees it; `rise` in the canonical unit of what it raises, null where its effect is not known. */
export interface CheckedDose {
  at: Date;
  substance: string;
  amount: number;
  unit: string;
  quantityCode: string | null;
  rise: number | null;
  /** Where its effect is not known: the most that it can raise; null or left out where nothing bounds it. */
  mostRise?: number | null;
  /** As what it would: "Saturated". */
  mostAs?: string;
}

/** What a dose is looked at for: to be logged, as the step of a correction, or to be planned as a routine. */
export type DosePurpose = 'log' | 'step' | 'routine';

/** A dose of the log that this one is compared with. */
export interface PastDose extends CheckedDose {
  /** A step of a correction is no habit; neither is a dose that was unusual when it was logged. */
  habit: boolean;
}

/** What is known of the system at the time of a dose. Levels in canonical units. */
export interface DoseContext {
  /** Doses of the last 30 days, of every substance. */
  past: readonly PastDose[];
  /** Amount that a routine plans of this substance; null where none does. */
  planned: { amount: number; unit: string } | null;
  /** What the dose raises; null where that is not known. */
  quantity: Quantity | null;
  /** The newest reading of it, not older than a week, that did not surprise or was confirmed. */
  level: { value: number; at: Date } | null;
  /** The other reading of the case, where nobody knows yet which holds: a newer test that waits for its repeat, or the same by the bottle before. */
  otherLevel?: OtherLevel | null;
  /** What two sources that disagree about that level say; null where none do. */
  disagreement: string | null;
  band: { low: number | null; high: number | null };
  /** The most a day, where a correction set another cap than the usual one. */
  dailyCap: number | null;
  timeZone: string;
}

/** A second reading of one level; `if`: when it is the right one, to go on in a sentence. */
export interface OtherLevel {
  value: number;
  at: Date;
  if: string;
}

/** What a dose does, and what speaks against it. */
export interface DoseOutlook {
  /** "Raises alkalinity by about 4.0 dKH, to about 12.1 dKH." */
  says: string;
  /** Where the level would stand, canonical; null where it is not known. */
  after: number | null;
  /** Why it wants a reason before it is kept, a sentence each; empty for an ordinary dose. */
  concerns: string[];
}

/** So many times the usual amount is asked about: a slip of the decimal point gives ten. Own choice. */
const manyTimes = 5;
/** Doses so many hours before count to the same day: a daily dose an hour early is not counted twice. Own choice. */
const dayBackHours = 20;
const dayAheadHours = 4;
/** Days over which the usual dosing a day is taken; own choice. */
const habitDays = 14;

/**
 * What a dose does and what speaks against it: the usual amount, the daily cap, and the band.
 * Of a step of a correction the amount and where it leads were weighed when it was planned; a routine is planned for
 * other days, so neither today's doses nor today's level count.
 */
export function doseOutlook(
  dose: CheckedDose,
  context: DoseContext,
  purpose: DosePurpose = 'log',
): DoseOutlook {
  const usual = purpose === 'step' ? null : usualAmount(dose, context);
  const { quantity } = context;
  const amountConcerns = usual === null ? [] : tooMuch(dose, usual);
  if (quantity === null || dose.rise === null) {
    const compared = usual === null ? '' : ` Usual is ${amountWords(usual.amount, usual.unit)}.`;
    const atMost = usual === null ? mostConcerns(dose, quantity) : [];
    return {
      says: `What it raises is not known.${compared}`,
      after: null,
      concerns: [...amountConcerns, ...atMost],
    };
  }
  const same = context.past.filter(({ quantityCode }) => quantityCode === quantity.code);
  const after = levelAfter(dose, dose.rise, same, context);
  const other = otherAfter(dose, dose.rise, same, context);
  return {
    says: saysOf(dose, dose.rise, quantity, { after, other }, context),
    after,
    concerns: [
      ...amountConcerns,
      ...(purpose === 'log' ? onDisagreement(dose, usual, context) : []),
      ...overCap(dose, dose.rise, quantity, purpose === 'routine' ? [] : same, context),
      ...(after === null || purpose !== 'log' ? [] : outOfBand(dose.rise, quantity, after, context.band)),
      ...(other === null || purpose !== 'log'
        ? []
        : outOfBand(dose.rise, quantity, other.after, context.band, other.if)),
    ],
  };
}

const amountWords = (amount: number, unit: string) => `${numberWords(Number(amount.toPrecision(3)))} ${unit}`;

/** An amount in grams, millilitres or drops, so that two of one kind compare. */
export function comparable(amount: number, unit: string): { kind: string; amount: number } {
  if (unit === 'g' || unit === 'kg')
    return { kind: 'mass', amount: convertMeasure('mass', amount, unit, 'g') };
  if (unit === 'mL' || unit === 'L')
    return { kind: 'volume', amount: convertMeasure('volume', amount, unit, 'mL') };
  return { kind: unit, amount };
}

const named = (substance: string) => substance.trim().toLowerCase();

/** The usual amount of a substance here, in the unit of the dose: the middle of what was logged, else what a routine plans. */
function usualAmount(
  { substance, unit }: CheckedDose,
  { past, planned }: DoseContext,
): { amount: number; unit: string } | null {
  const { kind, amount: one } = comparable(1, unit);
  const logged = past
    .filter((other) => other.habit && named(other.substance) === named(substance))
    .map((other) => comparable(other.amount, other.unit))
    .filter((other) => other.kind === kind)
    .map(({ amount }) => amount);
  const routine = planned === null ? null : comparable(planned.amount, planned.unit);
  const usual = median(logged) ?? (routine?.kind === kind ? routine.amount : null);
  return usual === null ? null : { amount: usual / one, unit };
}

function tooMuch({ amount, unit }: CheckedDose, usual: { amount: number; unit: string }): string[] {
  const times = amount / usual.amount;
  if (times < manyTimes) return [];
  return [
    `${amountWords(amount, unit)} is ${numberWords(Number(times.toPrecision(2)))} times the usual ${amountWords(usual.amount, usual.unit)}.`,
  ];
}

/** So many daily caps are asked about of a dose whose strength nobody has said; own choice. */
const mostCaps = 2;

/** What a dose of unknown strength could raise at most, where that is far above the cap of a day. */
function mostConcerns({ mostRise = null, mostAs = '' }: CheckedDose, quantity: Quantity | null): string[] {
  if (mostRise === null || quantity === null || !isCorrectable(quantity.code)) return [];
  const { usual: cap } = caps[quantity.code];
  if (mostRise <= mostCaps * cap) return [];
  const difference = (value: number) => sayDifference(quantity, value, usualMiddle(quantity));
  return [
    `${mostAs}, it raises ${nameInSentence(quantity.name)} by about ${difference(mostRise)}; the cap of a day is ${difference(cap)}.`,
  ];
}

/** So many times the usual amount is still the usual dose, which goes on while sources disagree; own choice. */
const stillUsual = 1.5;

/** What is more than the usual dose corrects a level of which nobody knows where it is. */
function onDisagreement(
  { amount }: CheckedDose,
  usual: { amount: number } | null,
  { disagreement, quantity }: DoseContext,
): string[] {
  if (disagreement === null || quantity === null) return [];
  const goesOn = usual !== null && amount <= stillUsual * usual.amount;
  return goesOn ? [] : [disagreementWords(quantity.name, disagreement)];
}

/** Rise of the habit a day: the middle of the daily sums of the last two weeks, or of as many days as there are. */
function habitPerDay(at: Date, same: readonly PastDose[]): number {
  const before = same.filter(({ habit, at: when }) => habit && when < at);
  const age = ({ at: when }: PastDose) => Math.floor(daysBetween(when, at));
  const days = Math.min(habitDays, Math.max(0, ...before.map((one) => age(one) + 1)));
  const sums = Array.from({ length: days }, (_, day) =>
    before.filter((one) => age(one) === day).reduce((sum, { rise }) => sum + (rise ?? 0), 0),
  );
  return median(sums) ?? 0;
}

/** More than the daily cap, all doses of the day together and the habit, which only replaces what is used, left out. */
function overCap(
  { at }: CheckedDose,
  rise: number,
  quantity: Quantity,
  same: readonly PastDose[],
  { dailyCap }: DoseContext,
): string[] {
  if (!isCorrectable(quantity.code)) return [];
  const hours = (other: PastDose) => daysBetween(at, other.at) * 24;
  const ofDay = same.filter((other) => hours(other) > -dayBackHours && hours(other) <= dayAheadHours);
  const others = ofDay.reduce((sum, other) => sum + (other.rise ?? 0), 0);
  const usual = habitPerDay(
    at,
    same.filter((other) => !ofDay.includes(other)),
  );
  const { usual: cap, source } = caps[quantity.code];
  const most = Math.max(cap, dailyCap ?? 0);
  const total = rise + others;
  if (Math.abs(total - usual) <= most * (1 + 1e-9) || Math.sign(total - usual) !== Math.sign(rise)) return [];
  const difference = (value: number) => sayDifference(quantity, Math.abs(value), usualMiddle(quantity));
  const together = others === 0 ? 'It moves' : `With the other doses of the day it moves`;
  const beside = usual === 0 ? '' : ` beyond the usual ${difference(usual)}`;
  return [
    `${together} ${nameInSentence(quantity.name)} by ${difference(total)} in a day; the cap is ${difference(most)}${beside}. ${source}`,
  ];
}

/** The level after a dose: the newest reading, what was dosed since, what is used meanwhile (as much as is usually dosed). */
function levelAfter(
  { at }: CheckedDose,
  rise: number,
  same: readonly PastDose[],
  { level }: DoseContext,
): number | null {
  if (level === null) return null;
  const since = same.filter((other) => other.at > level.at && other.at <= at);
  const dosed = since.reduce((sum, other) => sum + (other.rise ?? 0), 0);
  const used = Math.max(0, habitPerDay(at, same)) * daysBetween(level.at, at);
  return Math.max(0, level.value + dosed - used + rise);
}

/** Where the other reading of the case leads to: what is put in has to be safe under both. */
function otherAfter(
  dose: CheckedDose,
  rise: number,
  same: readonly PastDose[],
  context: DoseContext,
): { after: number; if: string } | null {
  const other = context.otherLevel ?? null;
  if (other === null) return null;
  const after = levelAfter(dose, rise, same, { ...context, level: other });
  return after === null ? null : { after, if: other.if };
}

function outOfBand(
  rise: number,
  quantity: Quantity,
  after: number,
  band: DoseContext['band'],
  when = '',
): string[] {
  const words = sayBand(quantity, band.low, band.high);
  const above = rise > 0 && band.high !== null && after > band.high;
  const below = rise < 0 && band.low !== null && after < band.low;
  return above || below
    ? [
        `About ${say(quantity, after)}${when === '' ? '' : `, ${when},`} is ${above ? 'above' : 'below'} the band of this system, ${words}.${when === '' ? '' : ' Nobody knows yet which of the two readings holds: give what is safe under both, or test again first.'}`,
      ]
    : [];
}

function saysOf(
  { at }: CheckedDose,
  rise: number,
  quantity: Quantity,
  { after, other }: { after: number | null; other: { after: number; if: string } | null },
  { level, disagreement, timeZone }: DoseContext,
): string {
  const does = `${rise < 0 ? 'Lowers' : 'Raises'} ${nameInSentence(quantity.name)} by about ${sayDifference(quantity, Math.abs(rise), usualMiddle(quantity))}`;
  if (disagreement !== null)
    return `${does}. Two sources disagree about the level (${disagreement}), so where it leads is not known.`;
  const or = other === null ? '' : `; ${say(quantity, other.after)} ${other.if}`;
  if ((after === null || level === null) && other !== null)
    return `${does}, to about ${say(quantity, other.after)} ${other.if}.`;
  if (after === null || level === null)
    return `${does}. No ${nameInSentence(quantity.name)} was read in the seven days before, so where it leads is not known.`;
  return `${does}, to about ${say(quantity, after)} (${say(quantity, level.value)} was read ${agoWords(level.at, timeZone, at)})${or}.`;
}
