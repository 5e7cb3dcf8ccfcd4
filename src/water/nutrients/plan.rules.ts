import { litres } from '../../platform/units/measures.ts';
import type { Figure } from '../../platform/words/figures.ts';
import { inputNumber, numberWords, plural } from '../../platform/words/numbers.ts';
import type { NutrientEstimate } from '../demand/nutrient.rules.ts';
import { weeklyShare } from '../demand/nutrient-words.rules.ts';
import { type DisplayQuantity, say } from '../quantities/quantities.ts';
import type { KeptFact } from '../record/types.ts';
import { evenInterval, intervalWords, type RoutinePlan } from '../routines/routines.rules.ts';
import type { NutrientCode } from './codes.ts';
import { largestSafeChange, type MixingLevels } from './mixing.rules.ts';
import type { ChangeSchedule, NutrientState } from './projection.rules.ts';
import { type ExchangePlan, exchangePlan } from './scenarios.rules.ts';
import { isToComeDown, type KindWish, type NutrientTarget, nutrientTarget } from './target.rules.ts';

/** What is aimed at with a nutrient, and by which water changes: the one plan that alerts and pages say. */
export interface NutrientAim {
  /** The level, and what is made as far as it is known: 0 where it is not, so that a plan counts exports only. */
  state: NutrientState;
  target: NutrientTarget;
  /** It is to come down (export more), else up (feed more). */
  down: boolean;
  /** The changes that bring it down and hold it; null where it is not to come down. */
  plan: ExchangePlan | null;
  /** The habit of changes, as one change a week. */
  habit: ChangeSchedule;
  largest: number;
}

type Kept = Pick<KeptFact, 'bandLow' | 'bandHigh' | 'limitHigh'>;

/** The aim for what is known of a nutrient and of the kinds that live in the water; null where its level is not known. */
export function nutrientAim(
  code: NutrientCode,
  estimate: NutrientEstimate,
  kept: Kept | undefined,
  mixing: MixingLevels,
  living: readonly KindWish[],
): NutrientAim | null {
  const state = stateOf(estimate);
  if (state === null) return null;
  const target = nutrientTarget(code, kept, estimate.own, living);
  const largest = largestSafeChange(mixing);
  const { settlesAt } = estimate;
  const course = { level: state.level, settlesAt: settlesAt ?? (estimate.rate.rate === null ? 0 : null) };
  const down = isToComeDown(
    { ...course, production: state.production },
    target.value,
    kept?.bandHigh ?? kept?.limitHigh ?? null,
  );
  return {
    state,
    target,
    down,
    plan: down ? exchangePlan(state, target.value, largest) : null,
    habit: { fraction: Math.round(1000 * weeklyShare(estimate.exchange)) / 1000, everyDays: 7 },
    largest,
  };
}

function stateOf({ level, rate, cov, makeUp }: NutrientEstimate): NutrientState | null {
  if (level === null) return null;
  const { perDay = 0, sd = 0 } = rate.rate ?? {};
  return {
    level: level.value,
    levelSd: level.sd,
    production: perDay,
    productionSd: sd,
    cov: rate.rate === null ? 0 : cov,
    makeUp,
  };
}

/** "2 changes of 20 % (240 L), one every 3 days; then one of 22 % (264 L) every 7 days". */
export function changesWords(
  volumeL: number,
  { first, later }: Pick<ExchangePlan, 'first' | 'later'>,
): string {
  const size = (fraction: number) =>
    `${numberWords(Math.round(fraction * 100))} % (${litres(Math.round(fraction * volumeL))})`;
  const every = (days: number) => (days === 1 ? 'every day' : `every ${numberWords(days)} days`);
  const then = later.fraction > 0 ? `one of ${size(later.fraction)} ${every(later.everyDays)}` : 'no changes';
  if (first.count === 0 || first.fraction <= 0) return then;
  const atOnce = `${plural(first.count, 'change', 'changes')} of ${size(first.fraction)}`;
  return first.count === 1
    ? `${atOnce}; then ${then}`
    : `${atOnce}, one ${every(first.everyDays)}; then ${then}`;
}

/** What is aimed at and planned, as every page says it. */
export function aimFigures(
  quantity: DisplayQuantity,
  system: { id: string; volumeL: number },
  { target, plan }: NutrientAim,
): { target: Figure; plan: Figure | null } {
  const named = (name: string, value: number | string, text: string): Figure => ({
    name: `${quantity.code}.${name}`,
    of: system.id,
    value,
    text,
  });
  return {
    target: named('target', target.value, `${say(quantity, target.value)}, ${target.source}`),
    plan: plan === null ? null : named('plan', inShort(plan), changesWords(system.volumeL, plan)),
  };
}

const inShort = ({ first, later }: ExchangePlan) =>
  `${first.count} x ${inputNumber(100 * first.fraction, 1)} %, then ${inputNumber(100 * later.fraction, 1)} % every ${inputNumber(later.everyDays, 1)} days`;

/** Said where no changes of at most 30 %, three a week, hold a level. */
export const changesDoNotHold =
  'Water changes alone do not hold it there: test the make-up water for it, and look for what feeds it';

/** What is planned in a routine now and by a plan: "from 12 % (144 L) every week to 22 % (264 L) every week". */
export function routineChangeWords(
  { name, volumeL }: { name: string; volumeL: number },
  routine: { plan: RoutinePlan; everyDays: number } | null,
  { fraction, everyDays }: ChangeSchedule,
): { change: string; ask: string } {
  const size = (litresChanged: number) =>
    `${numberWords(Math.round((100 * litresChanged) / volumeL))} % (${litres(Math.round(litresChanged))})`;
  const wanted = `${size(fraction * volumeL)} ${intervalWords(evenInterval(everyDays))}`;
  if (routine === null || routine.plan.work !== 'water_change')
    return {
      change: `Plan it as a routine: ${wanted}`,
      ask: `No water change is planned for ${name}. Ask a manager to plan ${wanted}.`,
    };
  const now = `${size(routine.plan.volumeL)} ${intervalWords(routine.everyDays)}`;
  // "12 % (310 L)" and "12 % (309 L)" are one change to whoever carries the water.
  const said = (words: string) => words.replace(/ \([^)]*\)/, '');
  if (said(now) === said(wanted))
    return { change: `The routine has it: ${now}`, ask: `The routine has it: ${now}.` };
  return {
    change: `Change the routine from ${now} to ${wanted}`,
    ask: `Ask a manager to change the routine from ${now} to ${wanted}.`,
  };
}

/** The form of a routine, filled with these changes: a new one, or the one that is planned now; "" for no changes. */
export function routineHref(systemId: string, { fraction, everyDays }: ChangeSchedule): string {
  if (fraction <= 0) return '';
  const query = new URLSearchParams({
    work: 'water_change',
    volume: inputNumber(fraction * 100, 1),
    volumeUnit: '%',
    every: inputNumber(everyDays, 1),
  });
  return `/water/systems/${systemId}/routines/new?${query}`;
}
