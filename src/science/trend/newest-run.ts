import { median } from 'd3-array';
import { positive } from '../numeric/range.ts';
import { groupRepeats, meanOf } from '../numeric/repeats.ts';
import { kendallScore } from './mann-kendall.ts';
import type { Point } from './points.ts';
import { theilSen } from './theil-sen.ts';

/** A reading with its standard uncertainty. */
interface RunPoint {
  day: number;
  value: number;
  u: number;
}

/** The straight line of the newest readings that go one way; a level, a day and their errors as a filter gives them. */
export interface Run {
  /** Days of its first and last reading, and how many it is of. */
  fromDay: number;
  day: number;
  readings: number;
  /** Level at the last reading, by the line. */
  level: number;
  levelSd: number;
  /** Change a day. */
  slope: number;
  slopeSd: number;
  levelSlopeCov: number;
  /** Whether the reading before the run lies off its line: something changed where it begins. */
  changed: boolean;
}

/** So many readings over so many days make a run, and none is longer; further apart they say nothing of a day. Own choice. */
const [fewest, shortest, longest, widestGap] = [6, 4, 14, 3];
/** A run is so many standard deviations of Kendall's S from chance: one in a hundred, either way. Own choice. */
const clear = 2.57;
/** It has moved by so many standard uncertainties of a reading. Own choice. */
const moved = 3;
/** Its last reading, and the one before it began, are off its line beyond so many; the usual limit of a control chart. */
const off = 3;
/** SD of normal values over the middle of their absolute deviations. */
const normalPerMad = 1.4826;

/**
 * The newest run of readings that rise or fall steadily, so clearly that it is hardly chance: Kendall's S over six readings or
 * more in four to fourteen days; the line by Theil and Sen, so that one slip does not turn it. Null where there is none. A filter
 * that is slow to give up a level that was steady for months still says what it was when a run has gone on for a week.
 *
 * Errors as of a least-squares line over the same days, from the readings' uncertainty or their scatter about the line, whichever
 * is larger. Mann 1945, Theil 1950, Sen 1968. Readings are taken as independent.
 *
 * @param readings numbers, not bounds, in any order; canonical unit
 */
export function newestRun(readings: readonly RunPoint[]): Run | null {
  const merged = mergeRepeats(readings);
  const last = merged.at(-1);
  if (last === undefined) return null;
  let best: { from: number; z: number } | null = null;
  for (let from = merged.length - 1; from >= 0; from--) {
    const [first, next] = [merged[from] as RunPoint, merged[from + 1] ?? last];
    if (next.day - first.day > widestGap || last.day - first.day > longest) break;
    if (merged.length - from < fewest || last.day - first.day < shortest) continue;
    const { z } = kendallScore(merged.slice(from).map(toPoint));
    if (Math.abs(z) >= clear && (best === null || Math.abs(z) >= Math.abs(best.z))) best = { from, z };
  }
  return best === null ? null : runFrom(merged, best.from);
}

const toPoint = ({ day, value }: RunPoint): Point => ({ time: day, value });

function runFrom(merged: readonly RunPoint[], from: number): Run | null {
  const run = merged.slice(from);
  const [first, last] = [run[0] as RunPoint, run.at(-1) as RunPoint];
  const { slope } = theilSen(run.map(({ day, value }) => ({ time: day - last.day, value })));
  if (slope === null) return null;
  const level = middle(run.map(({ day, value }) => value - slope * (day - last.day)));
  const aside = ({ day, value }: RunPoint) => value - level - slope * (day - last.day);
  const scatter = normalPerMad * middle(run.map((one) => Math.abs(aside(one))));
  const sd = Math.max(scatter, middle(run.map(({ u }) => u)));
  if (Math.abs(slope) * (last.day - first.day) < moved * sd || Math.abs(aside(last)) > off * sd) return null;
  const mean = run.reduce((sum, { day }) => sum + day, 0) / run.length;
  const spread = run.reduce((sum, { day }) => sum + (day - mean) ** 2, 0);
  const before = merged[from - 1];
  return {
    fromDay: first.day,
    day: last.day,
    readings: run.length,
    level,
    levelSd: sd * Math.sqrt(1 / run.length + (last.day - mean) ** 2 / spread),
    slope,
    slopeSd: sd / Math.sqrt(spread),
    levelSlopeCov: (sd ** 2 * (last.day - mean)) / spread,
    changed: before !== undefined && Math.abs(aside(before)) > off * Math.max(sd, before.u),
  };
}

/** Readings within two hours are one, with their mean and the largest uncertainty. */
function mergeRepeats(readings: readonly RunPoint[]): RunPoint[] {
  const sorted = readings
    .map((one) => ({ ...one, u: positive(one.u, 'standard uncertainty of a reading') }))
    .sort((a, b) => a.day - b.day);
  return groupRepeats(sorted).map((group) => ({
    day: group[0].day,
    value: meanOf(group.map(({ value }) => value)),
    u: Math.max(...group.map(({ u }) => u)),
  }));
}

const middle = (values: readonly number[]): number => median(values) ?? Number.NaN;
