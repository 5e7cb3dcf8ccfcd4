import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import type { NutrientFigures } from '../demand/nutrient-words.rules.ts';
import type { RateNow } from '../demand/supply.rules.ts';
import { dailyAmountWords, weightWords } from '../demand/words.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { type Quantity, say, sayBand } from '../quantities/quantities.ts';
import { changesWords } from './plan.rules.ts';
import {
  changesOf,
  largestChange,
  type NutrientPlan,
  type NutrientState,
  type PlanOutcome,
} from './projection.rules.ts';
import { planDays } from './scenarios.rules.ts';

/** The water a plan is made for. */
export interface PlanWater {
  quantity: Quantity;
  volumeL: number;
  timeZone: string;
  now: Date;
}

const percent = (part: number) => `${numberWords(Math.round(part * 100))} %`;
const dayAfter = ({ now, timeZone }: PlanWater, days: number) => dateWords(daysAfter(now, days), timeZone);

/** What a plan is, in one sentence. */
export function planSentence(water: PlanWater, plan: NutrientPlan): string {
  const { quantity, volumeL } = water;
  const { removed, feeding, dosed } = plan;
  const grams = (rate: number) => weightWords((rate * volumeL) / 1000);
  const more = [
    removed > 0 &&
      `skimming and detritus take ${dailyAmountWords(quantity, removed, 1)} a day more than now (${grams(removed)})`,
    feeding !== 0 && `feeding ${percent(Math.abs(feeding))} ${feeding > 0 ? 'more' : 'less'}`,
    dosed > 0 && `${dailyAmountWords(quantity, dosed, 1)} a day dosed (${grams(dosed)})`,
  ].filter((part) => part !== false);
  return `Water: ${[changesWords(volumeL, plan), ...more].join('; ')}.`;
}

/**
 * What a plan leads to: when the target is reached, and where the level ends; of that nothing where production is not `known`.
 * "Settles at" stays the word for where the present changes lead.
 */
export function outcomeSentence(
  water: PlanWater,
  outcome: PlanOutcome,
  target: number,
  known = true,
): string {
  const { quantity } = water;
  const { reachedDay, certainDay, settlesAt } = outcome;
  const end = outcome.points.at(-1);
  const leads =
    settlesAt === null ? '; goes on rising after that' : `; levels off at ${say(quantity, settlesAt)}`;
  const settling = known ? leads : '; by exports and doses alone';
  if (reachedDay === null) {
    const endWords =
      end === undefined
        ? ''
        : `: ${say(quantity, end.value)} (${say(quantity, end.low)} to ${say(quantity, end.high)}) on ${dayAfter(water, planDays)}`;
    return `Does not come to ${say(quantity, target)} within ${planDays} days${endWords}${settling}.`;
  }
  const first =
    reachedDay < 1
      ? `Reaches ${say(quantity, target)} at once`
      : `Reaches ${say(quantity, target)} about ${dayAfter(water, reachedDay)}`;
  const certainty =
    certainDay === null
      ? ` (not certain within ${planDays} days)`
      : certainDay <= reachedDay
        ? ', almost surely'
        : ` (almost surely by ${dayAfter(water, certainDay)})`;
  return `${first}${certainty}${settling}.`;
}

/**
 * The present level, what is made, and where the habit of changes leads. The level is that of all tests together: where the last
 * one (`read`, with its unit) said otherwise, it is told beside it.
 */
export function stateSentence(
  { level, production, exchange, settles }: NutrientFigures,
  present: RateNow,
  read: string | null,
): string {
  const now = level?.text ?? '';
  const alike = read === null || now.startsWith(read);
  const here = alike ? now : `${now}, by all tests together; the last one read ${read}`;
  if (present.rate === null)
    return `${here}. What feeding brings a day cannot be told: ${present.why}. The plans below count exports and doses only; feeding has no figure yet.`;
  return `${here}; ${production?.text ?? ''}, water changes taken out. With the recent water changes, ${exchange.text}, it ${settles?.text ?? 'goes on rising'}.`;
}

/**
 * Whether the level lies within the band, now and where the present changes lead. `hasAlert`: the watch has an open alert
 * about the nutrient; `settlesAt` is "not known" where production is not; `quiet`: nothing asks for a change.
 */
export function bandWords(
  quantity: Quantity,
  { level, settlesAt }: { level: number; settlesAt: number | null | 'not known' },
  { low, high }: { low: number | null; high: number | null },
  hasAlert = false,
): { says: string; quiet: boolean } {
  const band = sayBand(quantity, low, high);
  if (band === null) return { says: '', quiet: false };
  const inside = (value: number) => (low === null || value >= low) && (high === null || value <= high);
  if (!inside(level)) return { says: `Outside the target band, ${band}.`, quiet: false };
  if (settlesAt === 'not known')
    return {
      says: `Within the target band, ${band}. Where it goes from here is not known.`,
      quiet: !hasAlert,
    };
  if (settlesAt !== null && inside(settlesAt) && hasAlert)
    return {
      says: `Within the target band, ${band}, and stays there with the recent water changes; but there is an alert on it.`,
      quiet: false,
    };
  if (settlesAt !== null && inside(settlesAt))
    return {
      says: `Within the target band, ${band}, and stays there with the recent water changes: no change needed. The plans show what a change would do.`,
      quiet: true,
    };
  const settling = settlesAt === null ? 'it goes on rising' : `it settles at ${say(quantity, settlesAt)}`;
  return {
    says: `Within the target band, ${band}, but with the recent water changes ${settling}.`,
    quiet: false,
  };
}

/** What to do first, second and third. `removal`: what must be removed a day beside the present changes. */
export function adviceOf(water: PlanWater, down: boolean, removal: number): string[] {
  const { quantity, volumeL } = water;
  const name = nameInSentence(quantity.name);
  if (!down)
    return [
      `Feed more first: a quarter more, in small portions, and look again after two weeks. Most systems are underfed.`,
      `Change less water, or smaller parts of it, while ${name} stays low; keep an eye on what else the changes bring.`,
      `Dose ${name} only then, a little every day, with a test after three doses.`,
    ];
  const daily = dailyAmountWords(quantity, removal, 1);
  const skim =
    removal > 0 && /[1-9]/.test(daily.split(' ')[0] ?? '')
      ? `With the recent water changes, ${daily} a day (${weightWords((removal * volumeL) / 1000)} in the whole system) would have to go this way to be there in six weeks.`
      : 'With the recent water changes nothing more is needed this way.';
  return [
    'Water changes first: they take out what is there, and their size and number can be worked out (plan A).',
    `Then skim wetter and take detritus out of sumps, corners and beneath the racks (plan B). ${skim}`,
    `Feed less last, and only if ${name} still rises after three weeks: the stock lives on what it is fed.`,
  ];
}

/** The warning that there is nitrate with hardly any phosphate; '' where that is not so or not known. */
export function phosphateShortageWords(
  nitrate: { value: number; below: boolean } | undefined,
  phosphate: { value: number; below: boolean } | undefined,
  phosphateLow: number | null,
): string {
  if (nitrate === undefined || phosphate === undefined) return '';
  const isShort = phosphate.below || (phosphateLow !== null && phosphate.value < phosphateLow);
  if (!isShort || nitrate.below || nitrate.value < 1) return '';
  return 'Nitrogen is there and phosphorus hardly: that pair harms corals sooner than either alone (Nature Clim. Change 2012; Mar. Pollut. Bull. 2017). Feed, and let phosphate come up before nitrate is brought down.';
}

/** Half the level within so many days is a sudden cleaning: common practice, no source. */
const suddenDays = 14;

/** How the plans can harm the stock. */
export function planCautions(
  plans: readonly { name: string; plan: NutrientPlan; outcome: PlanOutcome }[],
  state: NutrientState,
  down: boolean,
): string[] {
  return plans.flatMap(({ name, plan, outcome }) => {
    const largest = Math.max(0, ...changesOf(plan, planDays).map(({ fraction }) => fraction));
    const soon = outcome.points.filter(({ day }) => day <= suddenDays).at(-1)?.value ?? state.level;
    return [
      largest > largestChange
        ? `Plan ${name} changes ${percent(largest)} at once. More than ${percent(largestChange)} is hard on the stock: match temperature, salinity and alkalinity of the new water, or make smaller changes oftener.`
        : '',
      down && soon < state.level / 2
        ? `Plan ${name} halves the level within ${suddenDays} days. Stock that has lived in rich water can pale when it is cleaned suddenly: go slower, and watch the colour (common practice, no source).`
        : '',
      plan.feeding < 0 ? `Plan ${name} feeds less. Leave that for last.` : '',
      plan.dosed > 0
        ? `Plan ${name} doses a nutrient. Use a substance of known strength, dissolved, a little a day, and stop when a test surprises.`
        : '',
    ].filter((text) => text !== '');
  });
}
