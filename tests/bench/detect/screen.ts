import { trackNitrate } from '../../../src/science/filter/nitrate.ts';
import { forecastNitrate, nitrateRise } from '../../../src/science/filter/nitrate-forecast.ts';
import {
  fallingLimit,
  probabilityOfLeaving,
  slopeOptions,
  trackSlope,
} from '../../../src/science/filter/slope.ts';
import { swingLimit, swingOptions, watchSwing } from '../../../src/science/filter/swing.ts';
import { convert, convertDifference } from '../../../src/science/units/convert.ts';
import type { ReadingFact } from '../../../src/watch/facts/types.ts';
import { besideTheLog } from '../../../src/watch/rules/alkalinity/logged-moves.ts';
import { lowerMiddle, mergeRepeats, usualGap } from '../../../src/watch/rules/levels/spacing.ts';
import { nitrateHistory } from '../../../src/water/estimates/nitrate-history.rules.ts';
import { dayZero, onDay } from '../../watch/facts.ts';
import { factsAt } from './facts.ts';
import { numberOf, ruleFor, type Tried } from './settings.ts';
import type { Logged } from './world.ts';

/**
 * By reading, how near a rule is to its alert (1: at it), from one pass over a whole world instead of one a reading.
 * Only readings near it are worth the rule's own evaluation; what is counted as found is always the rule's own word.
 */
export type Screen = (world: Logged, tried: Tried) => number[];

/** The rule itself is asked from this nearness on. */
export const worthAsking = 0.85;

const lastDay = ({ readings }: Logged) => readings.at(-1)?.day ?? 0;

function nitrate(world: Logged, tried: Tried): number[] {
  const facts = factsAt(world, lastDay(world), Number.POSITIVE_INFINITY);
  const { history } = trackNitrate(nitrateHistory(facts, world.readings), lastDay(world));
  const opens = numberOf(ruleFor.creep, 'rise', tried);
  const smallest = numberOf(ruleFor.creep, 'smallest', tried);
  return history.map((step) =>
    Math.min((nitrateRise(step) ?? 0) / opens, forecastNitrate(step).value / smallest),
  );
}

function swing(world: Logged, tried: Tried): number[] {
  const relied = swingOf(
    world,
    world.readings.filter(({ trust }) => trust !== 'unconfirmed'),
    tried,
  );
  const all = swingOf(world, world.readings, tried);
  return relied.map((near, i) => Math.max(near, all[i] ?? 0));
}

function swingOf(world: Logged, used: readonly ReadingFact[], tried: Tried): number[] {
  const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
  const facts = factsAt(world, lastDay(world), Number.POSITIVE_INFINITY);
  const { tests } = besideTheLog(facts, used, onDay(lastDay(world) - dayZero));
  const [gap, testSd] = [usualGap(tests), lowerMiddle(tests.map(({ sd }) => sd)) / perDkh];
  const caution = numberOf(ruleFor.swing, 'caution', tried);
  const shares = watchSwing(tests, swingOptions(perDkh)).map(({ day, sum, wander }) => ({
    day,
    share: sum / (caution * swingLimit(gap, testSd, wander)),
  }));
  let next = 0;
  return world.readings.map(({ day }) => {
    while ((shares[next]?.day ?? Number.POSITIVE_INFINITY) <= day) next += 1;
    return shares[next - 1]?.share ?? 0;
  });
}

/** Water that swings more than the usual has a wider forecast: the larger of two chances. */
const swings = [0.12, 0.2];
/** Told apart from the rule's own limit by far, for its noise is learnt. */
const fallNear = 0.2;

function fall(world: Logged, tried: Tried): number[] {
  const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
  const low = convert('alkalinity', numberOf(ruleFor.fall, 'floor', tried), 'dKH', 'meq/L');
  const tests = mergeRepeats(world.readings);
  const limit = fallingLimit(usualGap(tests), lowerMiddle(tests.map(({ sd }) => sd)) / perDkh);
  const opens = fallNear * numberOf(ruleFor.fall, 'caution', tried) * limit;
  const chances = swings.map((swing) => {
    const options = slopeOptions(swing * perDkh);
    return trackSlope(tests, lastDay(world), options).history.map(({ day, ...state }) => ({
      day,
      chance: probabilityOfLeaving({ day, ...state }, { low, high: Number.POSITIVE_INFINITY }, options).below,
    }));
  });
  return world.readings.map(
    ({ day }) =>
      Math.max(...chances.map((steps) => steps.findLast((step) => step.day <= day)?.chance ?? 0)) / opens,
  );
}

export const screens: Readonly<Record<string, Screen>> = {
  [ruleFor.creep]: nitrate,
  [ruleFor.swing]: swing,
  [ruleFor.fall]: fall,
};
