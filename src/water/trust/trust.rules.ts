import { daysBetween } from '../../science/numeric/time.ts';
import { agreement, combine } from '../../science/statistics/uncertainty.ts';
import { type Quantity, say, sayBand, sayDifference } from '../quantities/quantities.ts';

/** One reading as the rules of trust see it; canonical unit. */
export interface Measurement {
  at: Date;
  value: number;
  below: boolean;
  uncertainty: number;
  kitId: string | null;
  methodId: string | null;
}

/** A reading that is kept already. */
export interface Kept extends Measurement {
  id: string;
}

/** What is known of one quantity in one system around the time of a reading. */
export interface Setting {
  quantity: Quantity;
  band: { low: number | null; high: number | null };
  /** Readings that are relied on, before it, oldest first. */
  past: readonly Kept[];
  /** Readings before it that wait for a second one, oldest first. */
  pending: readonly Kept[];
  /** Readings after it that are already there (it was entered late), oldest first. */
  later: readonly Kept[];
  /** By how much logged water changes and unusual doses since the last reading would move it. */
  explained: number;
}

/** How far a reading is relied on, and why. */
export interface Verdict {
  trust: 'plain' | 'unconfirmed' | 'confirmed' | 'refuted';
  reason: string;
  /** The reading that settled it. */
  settledBy: string | null;
  /** What it settles of the readings that waited. */
  settles: { id: string; trust: 'confirmed' | 'refuted'; reason: string }[];
}

/** A jump counts as one beyond this many standard deviations of what water and test explain: the usual limit of a control chart. */
export const jumpSds = 3;
/** Until a system has a history, its water is taken to move this part of the plausible range from test to test; own choice. */
export const firstMove = 0.05;
/** The first guess weighs as many tests as this. */
const firstWeight = 3;
/** A second reading confirms a surprising one within this many days, and refutes it within this many; own choice. */
export const confirmDays = 7;
export const refuteDays = 2;
/** Trusted readings this young say where the water is known to be; own choice. */
const knownDays = 14;

const gapDays = (a: Measurement, b: Measurement) => Math.abs(daysBetween(a.at, b.at));

/** How far the reading is to be relied on. Pure; the reasons are written for the person at the bench. */
export function judge(reading: Measurement, setting: Setting): Verdict {
  const surprise = surpriseOf(reading, setting);
  const waiting = setting.pending.filter((one) => gapDays(one, reading) <= confirmDays);
  const settles = waiting.flatMap((one) => settle(one, reading, surprise === null, setting.quantity));
  const plain = { trust: 'plain' as const, reason: '', settledBy: null, settles };
  if (surprise === null) return plain;
  const agreeing = settles.find((one) => one.trust === 'confirmed');
  if (agreeing !== undefined) {
    return {
      ...plain,
      trust: 'confirmed',
      reason: `${surprise} The reading before says the same.`,
      settledBy: agreeing.id,
    };
  }
  return settledLater(reading, surprise, setting) ?? { ...plain, trust: 'unconfirmed', reason: surprise };
}

/** A reading entered late may already have been answered by the one after it. */
function settledLater(reading: Measurement, surprise: string, setting: Setting): Verdict | null {
  const next = setting.later[0];
  if (next === undefined || gapDays(reading, next) > confirmDays) return null;
  const usual = surpriseOf(next, { ...setting, explained: 0 }) === null;
  const [settled] = settle({ ...reading, id: '' }, next, usual, setting.quantity);
  if (settled === undefined) return null;
  return { trust: settled.trust, reason: `${surprise} ${settled.reason}`, settledBy: next.id, settles: [] };
}

/** Why a reading surprises, in a sentence or two; null when band and history explain it. */
export function surpriseOf(reading: Measurement, setting: Setting): string | null {
  const reasons = [outOfBand(reading, setting), jump(reading, setting)].filter((reason) => reason !== null);
  return reasons.length === 0 ? null : reasons.join(' ');
}

function outOfBand(reading: Measurement, { quantity, band, past }: Setting): string | null {
  const side = sideOf(reading, band);
  if (side === null) return null;
  const known = past.some(
    (one) => gapDays(one, reading) <= knownDays && sideOf(one, band) === side && agree(one, reading),
  );
  if (known) return null;
  const kept = sayBand(quantity, band.low, band.high) ?? '';
  return `${say(quantity, reading.value, reading.below)} is ${side} what this system keeps, ${kept}.`;
}

function sideOf({ value, below }: Measurement, band: Setting['band']): 'below' | 'above' | null {
  if (band.low !== null && value < band.low) return 'below';
  return !below && band.high !== null && value > band.high ? 'above' : null;
}

function jump(reading: Measurement, setting: Setting): string | null {
  const { quantity, past, explained } = setting;
  const last = past.at(-1);
  if (last === undefined) return null;
  const [low, high] = reach(last, explained);
  const [least, most] = reach(reading, 0);
  const distance = Math.max(0, least - high, low - most);
  const allowed =
    jumpSds *
    combine(reading.uncertainty, last.uncertainty, waterMove(past, quantity, gapDays(last, reading)));
  if (distance <= allowed) return null;
  const words = sayDifference(quantity, distance, reading.value);
  const before = `${say(quantity, last.value, last.below)}, ${ageWords(gapDays(last, reading))} before`;
  const may = sayDifference(quantity, allowed, reading.value);
  return `It is ${words} ${low > most ? 'below' : 'above'} the last reading (${before}); this water and this test explain ${may}.`;
}

/** Where the true value may lie by what was read and by what is known to have been done since. */
function reach({ value, below }: Measurement, explained: number): [number, number] {
  const floor = below ? Math.min(0, value) : value;
  return [floor + Math.min(0, explained), value + Math.max(0, explained)];
}

/**
 * Standard deviation of what the water itself does between two tests `gap` days apart: the robust spread of its own
 * steps less what the tests add, blended with a first guess, and growing with the root of a longer gap.
 */
export function waterMove(past: readonly Measurement[], quantity: Quantity, gap: number): number {
  const steps = past.slice(1).flatMap((one, i) => {
    const before = past[i];
    return before === undefined || one.below || before.below ? [] : [{ before, one }];
  });
  const guess = (firstMove * (quantity.plausibleHigh - quantity.plausibleLow)) ** 2;
  const spread = (1.4826 * median(steps.map(({ before, one }) => Math.abs(one.value - before.value)))) ** 2;
  const tests = median(steps.map(({ before, one }) => one.uncertainty ** 2 + before.uncertainty ** 2));
  const own = Math.max(0, spread - tests);
  const variance = (firstWeight * guess + steps.length * own) / (firstWeight + steps.length);
  const usualGap = median(steps.map(({ before, one }) => gapDays(before, one)));
  return Math.sqrt(variance * (usualGap > 0 ? Math.max(1, gap / usualGap) : 1));
}

/** What a second reading says about one that waited: it agrees, or it disagrees and fits the history. */
function settle(waiting: Kept, second: Measurement, usual: boolean, quantity: Quantity): Verdict['settles'] {
  const said = say(quantity, second.value, second.below);
  const when = `${ageWords(gapDays(waiting, second))} later`;
  if (agree(waiting, second)) {
    return [
      {
        id: waiting.id,
        trust: 'confirmed',
        reason: `Confirmed by ${said} ${when}: ${whatItConfirms(waiting, second)}`,
      },
    ];
  }
  if (!usual || gapDays(waiting, second) > refuteDays) return [];
  return [
    {
      id: waiting.id,
      trust: 'refuted',
      reason: `Refuted by ${said} ${when}, which fits the readings before.`,
    },
  ];
}

function whatItConfirms(a: Measurement, b: Measurement): string {
  if (a.methodId !== b.methodId) return 'by another method, so the kit reads right too.';
  if (a.kitId !== null && b.kitId !== null && a.kitId !== b.kitId)
    return 'by another kit, so the kit reads right too.';
  return 'the work is right; another kit or method would show whether the kit is.';
}

/** Two readings agree when their normalised error is within 1; of two below detection that is so by itself. */
export function agree(a: Measurement, b: Measurement): boolean {
  if (a.below && b.below) return true;
  if (a.below !== b.below) {
    const [limit, value] = a.below ? [a, b] : [b, a];
    return value.value <= limit.value + 2 * combine(a.uncertainty, b.uncertainty);
  }
  if (a.uncertainty === 0 && b.uncertainty === 0) return a.value === b.value;
  return agreement({ value: a.value, u: a.uncertainty }, { value: b.value, u: b.uncertainty }).agree;
}

/** What would settle an unconfirmed reading, as an instruction. */
export function whatSettles(
  quantity: Quantity,
  { value, below, uncertainty }: Pick<Measurement, 'value' | 'below' | 'uncertainty'>,
): string {
  if (below)
    return `Test again: a second reading of ${say(quantity, value, true)} confirms it. Another kit or method shows whether the kit is right.`;
  const reachOfTwo = 2 * Math.SQRT2 * uncertainty;
  const low = Math.max(quantity.possibleLow, value - reachOfTwo);
  const range = sayBand(quantity, low, value + reachOfTwo);
  return `Test again: ${range} with the same kit confirms the work, with another kit or method the kit too. Until then no correction rests on it.`;
}

function ageWords(days: number): string {
  const minutes = Math.round(days * 1440);
  if (minutes < 90) return `${minutes} min`;
  return minutes < 48 * 60 ? `${Math.round(minutes / 60)} h` : `${Math.round(days)} days`;
}

function median(values: readonly number[]): number {
  if (values.length === 0) return 0;
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  const upper = sorted[middle] ?? 0;
  return sorted.length % 2 === 1 ? upper : ((sorted[middle - 1] ?? 0) + upper) / 2;
}
