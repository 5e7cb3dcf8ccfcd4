import type { Finding } from '../../../alerts/finding.ts';
import {
  daysToNitrate,
  probabilityAbove,
  type RiseReason,
  settledNitrate,
} from '../../../science/filter/nitrate-forecast.ts';
import type { NitrateState } from '../../../science/filter/nitrate-types.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { say, show } from '../../../water/quantities/quantities.ts';
import type { QuantityFact, SystemFacts } from '../../facts/types.ts';
import { dateOfDay, percent, quantityNamed } from '../shared/words.ts';
import { planExchange } from './exchange-plan.ts';

/** Days ahead that the creep rule looks. */
export const horizon = 60;

/** When, and how likely, the system's upper limit is reached. */
export interface LimitForecast {
  limit: number;
  days: number | null;
  chance: number;
}

/** Null where the system has no upper limit. */
export function limitForecast(facts: SystemFacts, state: NitrateState): LimitForecast | null {
  const limit = facts.kept.get('nitrate')?.limitHigh ?? null;
  if (limit === null) return null;
  const days = state.level >= limit ? 0 : daysToNitrate(state, limit);
  return { limit, days, chance: probabilityAbove(state, limit, horizon) };
}

/** Which of the two rose. */
export function creepTitle({ name }: SystemFacts, reason: RiseReason | null): string {
  if (reason?.main === 'fewer changes')
    return `${name}: nitrate rises because fewer water changes are logged`;
  if (reason?.main === 'both') return `${name}: nitrate creeps, made faster and changed out less`;
  return `${name}: nitrate creeps beneath the weekly changes`;
}

/** Level, where it tends, and when the limit is reached. */
export function creepNumbers(
  quantity: QuantityFact,
  state: NitrateState,
  reach: LimitForecast | null,
  facts: SystemFacts,
  now: Date,
): string {
  const settled = settledNitrate(state);
  const tends =
    settled === null
      ? 'tends nowhere, since nothing is changed'
      : `tends to ${show(quantity, settled.value).text}`;
  const here = `${say(quantity, state.level)} now, ${tends}`;
  if (reach === null || reach.days === null || reach.days > 365) return here;
  if (reach.days === 0) return `${here}; the limit of ${say(quantity, reach.limit)} is passed`;
  return `${here}; ${say(quantity, reach.limit)} is reached about ${dateOfDay(dayOf(now) + reach.days, facts)}`;
}

/** What the filter knows, in words. */
export function creepFigures(
  quantity: QuantityFact,
  state: NitrateState,
  reach: LimitForecast | null,
): Finding['figures'] {
  const { own, habit } = state;
  const settled = settledNitrate(state);
  const rate = (value: number) => `${value.toFixed(2)} mg/L a day`;
  return [
    { label: 'Level now', text: `${say(quantity, state.level)} ± ${state.levelSd.toFixed(1)}` },
    {
      label: 'Made a day, changes taken out',
      text: `${rate(state.production)} ± ${state.productionSd.toFixed(2)}${own ? `; before ${rate(own.production)}` : ''}`,
    },
    {
      label: 'Changed lately',
      text: `${percent(7 * habit.fraction)} a week${own ? `; before ${percent(-Math.expm1(-7 * own.exchange))}` : ''}`,
    },
    {
      label: 'The present habit tends to',
      text:
        settled === null
          ? 'no level: it goes on rising'
          : `${say(quantity, settled.value)} ± ${settled.sd.toFixed(1)}`,
    },
    ...(reach === null
      ? []
      : [
          {
            label: `Above ${say(quantity, reach.limit)} within ${horizon} days`,
            text: chanceWords(reach.chance),
          },
        ]),
  ];
}

/** The filter's figure is a lower bound. */
const chanceWords = (chance: number) =>
  chance < 0.01 ? 'hardly: below 1 %' : `at least ${percent(chance)} likely`;

/** What each of the two adds, and why it matters. */
export function creepWhy(quantity: QuantityFact, reason: RiseReason | null): string {
  const part = (rise: number | undefined) => say(quantity, Math.max(0, rise ?? 0));
  const parts = `More production adds ${part(reason?.byProduction)} to the level in ${horizon} days, fewer changes ${part(reason?.byExchange)}`;
  return `${parts}; a slow rise hides beneath the saw-tooth until the stock recedes, for which growers look at nitrate first.`;
}

/** Export more, with number and size of the changes that bring it to `quietLevel`; then feed less. */
export function creepFirstStep(
  facts: SystemFacts,
  state: NitrateState,
  quietLevel: number,
  reason: RiseReason | null,
): string {
  const target = Math.max(quietLevel, facts.kept.get('nitrate')?.bandLow ?? 0);
  const { production, level, habit } = state;
  const plan = planExchange({ level, production, makeUp: habit.makeUp, target });
  const start =
    reason?.main === 'fewer changes'
      ? 'Take the changes up again'
      : 'Export more: skim wetter, take detritus out';
  if (plan === null)
    return `${start}. Water changes alone do not hold it near its own level: test the make-up water for nitrate, and look for what feeds it.`;
  const atOnce =
    plan.firstCount === 0
      ? ''
      : `${plan.firstCount} ${plan.firstCount === 1 ? 'change' : 'changes'} of ${percent(plan.firstFraction)} (${Math.round(plan.firstFraction * facts.volumeL)} L each, some days apart), then `;
  const weekly = `${plan.perWeek === 1 ? 'one' : plan.perWeek} of ${percent(plan.fraction)} (${Math.round(plan.fraction * facts.volumeL)} L) a week`;
  return `${start}; ${atOnce}${weekly} holds it near ${say(quantityNamed(facts, 'nitrate'), target)}. Feed less only if it still rises after three weeks.`;
}

/** Asked where fewer changes are logged than usual. */
export function creepQuestion(facts: SystemFacts, state: NitrateState, today: number): string {
  const last = facts.changes.at(-1);
  const since = last === undefined ? null : Math.floor(today - last.day);
  const usual = state.own?.exchange ?? 0;
  const thin = state.habit.exchange < 0.8 * usual || (since !== null && since > 10);
  if (!thin) return '';
  return `Were the changes done? The last one logged was ${since} days ago. Log those that were: the forecast counts them.`;
}

/** The logged changes since a day. */
export function changeEvidence(facts: SystemFacts, since: number): Finding['evidence'] {
  return facts.changes
    .filter(({ day }) => day >= since)
    .map(({ id, at, fraction, volumeL }) => ({
      kind: 'water change' as const,
      id,
      at,
      text: `${Math.round(volumeL)} L, ${percent(fraction)}`,
      note: '',
    }));
}
