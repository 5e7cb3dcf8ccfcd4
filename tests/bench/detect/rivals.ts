import { mean } from 'd3-array';
import { convert, convertDifference } from '../../../src/science/units/convert.ts';
import { dayZero } from '../../watch/facts.ts';
import { ratiosOfFall } from './knowing.ts';
import { ruleFor } from './settings.ts';
import type { Logged } from './world.ts';

/** A statistic of plain means, and its value after each reading of a world. */
export interface Rival {
  name: string;
  /** Its limit where that is not tuned. */
  fixed?: number;
  values(world: Logged): { day: number; value: number }[];
}

const lastN = 5;
const meanOf = 30;
const usual = convert('alkalinity', 8.2, 'dKH', 'meq/L');

/** The slope of a straight line through points by least squares, a day. */
export function slopeOf(points: readonly { day: number; value: number }[]): number {
  const [day, value] = [mean(points, (p) => p.day) ?? 0, mean(points, (p) => p.value) ?? 0];
  const spread = points.reduce((sum, p) => sum + (p.day - day) ** 2, 0);
  return spread === 0 ? 0 : points.reduce((sum, p) => sum + (p.day - day) * (p.value - value), 0) / spread;
}

const daysOf = ({ readings }: Logged) => readings.map(({ day, value }) => ({ day: day - dayZero, value }));

const slopeOfLast = (size: (slope: number) => number) => (world: Logged) => {
  const all = daysOf(world);
  return all.map(({ day }, i) => ({
    day,
    value: i + 1 < lastN ? 0 : size(slopeOf(all.slice(i + 1 - lastN, i + 1))),
  }));
};

/** Rivals of the rule on a creeping level. */
const risingRivals: Rival[] = [
  { name: 'one reading above 20 mg/L', fixed: 20, values: daysOf },
  { name: 'one reading above a tuned limit', values: daysOf },
  { name: 'least squares over the last 5', values: slopeOfLast((slope) => slope) },
];

/** Rivals of the rule on swings: a reading's distance from the mean of the 30 before it. */
const swingingRivals: Rival[] = [
  {
    name: 'one reading 1.2 dKH off 8.2',
    fixed: convertDifference('alkalinity', 1.2, 'dKH', 'meq/L'),
    values: (world) => daysOf(world).map(({ day, value }) => ({ day, value: Math.abs(value - usual) })),
  },
  {
    name: 'one reading off its mean by a tuned limit',
    values: (world) => {
      const all = daysOf(world);
      return all.map(({ day, value }, i) => ({
        day,
        value: Math.abs(value - (mean(all.slice(Math.max(0, i - meanOf), i), (p) => p.value) ?? value)),
      }));
    },
  },
  { name: 'least squares over the last 5', values: slopeOfLast(Math.abs) },
];

/** Rivals of the rule on falls. */
const fallingRivals: Rival[] = [
  {
    name: 'one reading below 7.0 dKH',
    fixed: -convert('alkalinity', 7, 'dKH', 'meq/L'),
    values: (world) => daysOf(world).map(({ day, value }) => ({ day, value: -value })),
  },
  {
    name: 'one reading below a tuned limit',
    values: (world) => daysOf(world).map(({ day, value }) => ({ day, value: -value })),
  },
  { name: 'least squares over the last 5', values: slopeOfLast((slope) => -slope) },
];

/** What one could tell of a fall who knows how the rough world is made. */
const whoKnowsTheModel: Rival = {
  name: 'a likelihood ratio that knows the model',
  values: ({ inputs }) => (inputs === undefined ? [] : ratiosOfFall(inputs, { fall: 0.1, testSd: 0.1 })),
};

/** What a rule is compared with: a fixed limit, a tuned one, and a slope, each on single readings. */
export function rivalsOf(rule: string, rough = false): Rival[] {
  if (rule === ruleFor.creep) return risingRivals;
  if (rule === ruleFor.fall) return rough ? [...fallingRivals, whoKnowsTheModel] : fallingRivals;
  return swingingRivals;
}
