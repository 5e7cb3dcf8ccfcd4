import { normalTail } from '../../../science/statistics/normal.ts';
import { theilSen } from '../../../science/trend.ts';
import type { ReadingFact } from '../../facts/types.ts';
import type { Edges, Side } from './edges.ts';
import type { LevelTrack } from './level-filter.ts';
import { lowerMiddle } from './spacing.ts';

/** Where a level is taken to stand now. */
export interface Level {
  value: number;
  sd: number;
  /** Said by the last readings alone: a repeat agreed, two tests running lie beyond the edge, or only an unconfirmed one says so. */
  from: 'confirmed' | 'all tests' | 'two tests' | 'unconfirmed';
}

/** A second reading that agrees has settled it within this many days. */
const settledDays = 7;
/** Two tests running that agree are believed over the filter from this many SD on. */
const jumped = 3;

/**
 * Where the level stands: what the filter of all tests says; but what a repeat confirmed, or two tests running say alike,
 * stands for itself, since the filter takes a jump for one only slowly. An unconfirmed last reading is heard where the
 * caller left it in.
 */
export function levelNow(readings: readonly ReadingFact[], track: LevelTrack): Level {
  const last = readings.at(-1) as ReadingFact;
  if (last.trust === 'plain') return asConfirmed(readings, track) ?? pairJumped(track) ?? ofAllTests(track);
  const within = last.trust === 'confirmed' ? settledDays : 0;
  return ofLast(
    readings.filter(({ trust, day }) => trust === last.trust && last.day - day <= within),
    last,
    last.trust === 'confirmed' ? 'confirmed' : 'unconfirmed',
  );
}

/** Two tests running say where a level stands if they are no further apart than so many days; own choice. */
const runningDays = 9;

/**
 * Where the last two tests put a level that both lie beyond one edge of the band: a level that creeps over an edge is seen by
 * them before the filter of all tests follows. Null where they do not, or where a step of a correction lies between them.
 */
export function beyondByTests(
  readings: readonly ReadingFact[],
  { low, high }: Edges,
  shift: LevelTrack['shift'],
): Level | null {
  const [before, last] = readings.slice(-2);
  if (before === undefined || last === undefined || last.day - before.day > runningDays) return null;
  const pair = [before, last];
  if (pair.some(({ trust, below, above }) => trust === 'unconfirmed' || below || above === true)) return null;
  if (shift(before.day) !== shift(last.day)) return null;
  const beyond = pair.every(({ value }) => value > high) || pair.every(({ value }) => value < low);
  if (!beyond) return null;
  const sd = Math.max(1e-9, Math.hypot(before.u, last.u) / 2);
  return { value: (before.value + last.value) / 2, sd, from: 'two tests' };
}

/** Whether two tests running went beyond their scale, and that ends at an upper edge or above it: the level is beyond the edge. */
export const isBeyondScale = (readings: readonly ReadingFact[], edge: number): boolean =>
  readings.length > 1 &&
  readings.slice(-2).every(({ above, trust, value }) => above && trust !== 'unconfirmed' && value >= edge);

/** What the last reading and those near it that agree with it say. */
function ofLast(near: readonly ReadingFact[], last: ReadingFact, from: Level['from']): Level {
  const same = near.filter((one) => Math.abs(one.value - last.value) <= 2 * Math.hypot(one.u, last.u));
  const parts = same.map(({ value, u, below }) =>
    below ? { value: value / 2, u: value / Math.sqrt(12) } : { value, u },
  );
  return {
    value: parts.reduce((sum, { value }) => sum + value, 0) / parts.length,
    sd: Math.max(1e-9, ...parts.map(({ u }) => u)) / Math.sqrt(parts.length),
    from,
  };
}

/**
 * A plain reading that agrees with confirmed ones bears them out, and all of them since count; null where they do not agree, or
 * say no more than the filter of all tests does.
 */
function asConfirmed(readings: readonly ReadingFact[], { state, shift }: LevelTrack): Level | null {
  const last = readings.at(-1) as ReadingFact;
  const confirmed = readings.findLast(({ trust }) => trust === 'confirmed');
  if (confirmed === undefined || last.day - confirmed.day > settledDays) return null;
  if (Math.abs(confirmed.value - last.value) > 2 * Math.hypot(confirmed.u, last.u)) return null;
  const since = readings.find(({ trust, day }) => trust === 'confirmed' && last.day - day <= settledDays);
  const near = readings.filter(({ trust, day }) => trust !== 'unconfirmed' && day >= (since ?? last).day);
  const level = ofLast(near, last, 'confirmed');
  const off = Math.abs(level.value - (state.level + shift(state.day)));
  return off > jumped * Math.hypot(level.sd, state.levelSd) || level.sd < state.levelSd ? level : null;
}

const ofAllTests = ({ state, shift }: LevelTrack): Level => ({
  // What is dissolved is never less than nothing, whatever the filter of scattered tests near nothing says.
  value: Math.max(0, state.level + shift(state.day)),
  sd: state.levelSd,
  from: 'all tests',
});

function pairJumped({ tests, state, options, shift }: LevelTrack): Level | null {
  const [before, last] = tests.slice(-2);
  if (before === undefined || last === undefined || before.bound || last.bound) return null;
  const of = (sd: number) => Math.hypot(sd, options.swing);
  const spread = Math.hypot(of(before.sd), of(last.sd));
  const [value, sd] = [(before.value + last.value) / 2, spread / 2];
  const agree = Math.abs(before.value - last.value) <= spread;
  if (!agree || Math.abs(value - state.level) <= jumped * Math.hypot(sd, state.levelSd)) return null;
  return { value: value + shift(last.day), sd, from: 'all tests' };
}

/** A drift that leaves the band. */
export interface LevelDrift {
  side: Side;
  edge: number;
  chance: number;
  days: number;
  perDay: number;
}

/** A drift is one of the last six weeks at least, so that an ordinary wandering of a fortnight is not taken for it. */
const driftDays = 42;
const fewestInDrift = 7;

/**
 * Where the slope of the last six weeks (Theil and Sen's, since slips do not bend it) takes the level within `days`; null
 * where its 99 % interval holds 0, or a correction moves the level anyway.
 */
export function driftOf(
  { tests, state, options, shift }: LevelTrack,
  { low, high }: Edges,
  days: number,
): LevelDrift | null {
  const recent = tests.filter(({ day }) => day > state.day - Math.max(driftDays, 4 * days));
  if (recent.length < fewestInDrift || shift(state.day + days) !== shift(state.day - driftDays)) return null;
  if (!mayLeave(recent, state.level + shift(state.day), { low, high }, days)) return null;
  const points = recent.map(({ day, value, bound }) => ({ time: day, value, ...(bound && { bound }) }));
  const slope = theilSen(points, 0.99);
  if (slope.slope === null || slope.low === null || slope.high === null) return null;
  if (slope.low <= 0 && slope.high >= 0) return null;
  const level = state.level + shift(state.day);
  const slopeSd = (slope.high - slope.low) / (2 * 2.576);
  const sd = Math.hypot(state.levelSd, slopeSd * days, options.levelNoise * Math.sqrt(days));
  const side = slope.slope < 0 ? 'below' : 'above';
  const edge = side === 'below' ? low : high;
  const ahead = level + slope.slope * days;
  const chance = normalTail((side === 'below' ? ahead - edge : edge - ahead) / sd);
  return { side, edge, chance, days, perDay: slope.slope };
}

/** Twice the coarse slope, from the middles of the first and the last third, has to lead out before all pairs are looked at. */
function mayLeave(tests: LevelTrack['tests'], level: number, { low, high }: Edges, days: number): boolean {
  const third = Math.ceil(tests.length / 3);
  const [early, late] = [tests.slice(0, third), tests.slice(-third)];
  const middleOf = (of: typeof tests, what: 'day' | 'value') => lowerMiddle(of.map((one) => one[what]));
  const span = middleOf(late, 'day') - middleOf(early, 'day');
  if (span <= 0) return false;
  const ahead = level + (2 * days * (middleOf(late, 'value') - middleOf(early, 'value'))) / span;
  return ahead < low || ahead > high;
}
