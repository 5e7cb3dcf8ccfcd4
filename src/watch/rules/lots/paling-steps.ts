import {
  type Advice,
  again,
  asking,
  correct,
  done,
  down,
  hold,
  measure,
  noted,
  notUp,
  optimise,
  up,
} from '../../../alerts/advice.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import { lightStress } from '../light/light-dose.ts';
import { type FoodInWater, foodInWater } from '../nitrate/food-in-water.ts';
import { onsetOf } from '../shared/conditions.ts';
import { tooWarm } from './too-warm.ts';

/** Where the light of a lot stands against what it is kept at and bears. */
type LightPlace = 'unknown' | 'too bright' | 'suits' | 'too dim';

/**
 * What is done with a lot that pales or bleached: light, heat and food are weighed before it is moved. A dimmer place is
 * for one that stands too bright; one that has suited light and starved water looks to food first.
 */
export function palingSteps(
  facts: SystemFacts,
  lot: LotFact,
  state: 'paling' | 'bleached',
  now: Date,
): Advice[] {
  const light = lightPlace(lot, dayOf(now));
  const food = foodInWater(facts, now);
  const heat = tooWarm(facts, now);
  const steps: Advice[] = [];
  if (heat !== null) steps.push(measure(heat));
  if (food.state === 'doubtful') steps.push(noted(measure(food.words), food.note));
  if (light === 'too bright') steps.push(...dimmer(lot, state, food.state === 'starved' ? food : null));
  else if (food.state === 'starved') steps.push(...foodFirst(lot, light, food));
  else steps.push(...lightAgain(facts, lot, light), ...asItStands(lot, light, state));
  return steps;
}

/** Lamps may give more or less since their light was measured: a survey from before it paled clears them of nothing. */
function lightAgain({ racks }: SystemFacts, { rackId, conditions }: LotFact, light: LightPlace): Advice[] {
  const onset = onsetOf(conditions);
  const measured = racks.find(({ id }) => id === rackId)?.surveys.at(-1)?.day;
  if (light === 'unknown' || onset === null || measured === undefined || measured >= onset.firstBad.day)
    return [];
  return [
    noted(
      measure('Measure the light at its place again.'),
      'It was last measured before this was seen; the lamps may give more or less since.',
    ),
  ];
}

/** Light of its place in words: "60 µmol/(m² s), and 50 to 120 suit it". */
function lightWords({ light, care: { range } }: LotFact): string {
  const par = `${numberWords(light.at(-1)?.par ?? 0, 0)} µmol/(m² s)`;
  if (range?.low == null && range?.high == null) return par;
  const [low, high] = [range.low, range.high].map((value) => (value === null ? '' : numberWords(value, 0)));
  const kept = low === '' ? `up to ${high}` : high === '' ? `${low} or more` : `${low} to ${high}`;
  return `${par}, and its kind is kept at ${kept}`;
}

function lightPlace(lot: LotFact, today: number): LightPlace {
  const par = lot.light.at(-1)?.par;
  if (par === undefined) return 'unknown';
  const stress = lightStress(lot, today);
  const { range } = lot.care;
  if ((stress !== null && stress.excess >= 1) || (range?.high != null && par > range.high))
    return 'too bright';
  if (range?.low != null && par < range.low) return 'too dim';
  return range === null && stress === null ? 'unknown' : 'suits';
}

/** Set into this place since it was first seen so, where it is dimmer than before. */
function movedSince({ light, placedDay, conditions }: LotFact): boolean {
  const onset = onsetOf(conditions);
  const [before, now] = light.slice(-2);
  const dimmed = before !== undefined && now !== undefined && now.par < before.par;
  return onset !== null && placedDay > onset.firstBad.day && dimmed;
}

const smallFood = optimise('Feed it small food when its tentacles are out.', up('food'));

function dimmer(lot: LotFact, state: 'paling' | 'bleached', hungry: FoodInWater | null): Advice[] {
  const fed = hungry === null ? [] : [noted(correct(hungry.words, up('food')), hungry.note)];
  if (movedSince(lot))
    return [
      noted(
        correct('Leave it where it is, and look at it in two days.', hold('place'), notUp('light')),
        'It was set dimmer after it was first seen so.',
      ),
      ...fed,
    ];
  if (state === 'bleached')
    return [
      correct('Move it to a dimmer place today, and leave it there.', down('light'), done('place')),
      ...fed,
      smallFood,
    ];
  return [
    measure('Compare its light with what it is used to.'),
    correct('Move it to a dimmer place of the same flow.', down('light'), done('place')),
    ...fed,
  ];
}

function foodFirst(lot: LotFact, light: LightPlace, { words, note }: FoodInWater): Advice[] {
  const known = light === 'unknown' ? 'Its light was never measured' : `It gets ${lightWords(lot)}`;
  const after =
    light === 'too dim'
      ? 'Raise its light by small steps, only once its colour is back.'
      : 'Look again in a week.';
  return [
    noted(correct(`Look to food first. ${words}`, up('food')), note),
    noted(correct('Leave it where it is.', hold('place'), hold('light')), `${known}.`),
    again(after),
  ];
}

function asItStands(lot: LotFact, light: LightPlace, state: 'paling' | 'bleached'): Advice[] {
  const look = asking('place', measure('Look at heat, food, flow and neighbours.'));
  if (light === 'unknown') return [measure('Measure the light at its place before it is moved.'), look];
  if (light === 'too dim')
    return [
      look,
      noted(measure('Do not shade it further: that does not help.'), `It gets ${lightWords(lot)}.`),
    ];
  const stay = correct(
    'Leave it where it is.',
    hold('place'),
    state === 'bleached' ? notUp('light') : hold('light'),
  );
  return [
    look,
    noted(stay, `It gets ${lightWords(lot)}.`),
    state === 'bleached' ? smallFood : again('Look again in three days.'),
  ];
}
