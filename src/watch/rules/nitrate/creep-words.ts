import { type Advice, correct, done, noted, up } from '../../../alerts/advice.ts';
import type { Finding } from '../../../alerts/finding.ts';
import { withoutUnit } from '../../../platform/units/everyday.ts';
import { litres } from '../../../platform/units/measures.ts';
import { dayCount } from '../../../platform/words/numbers.ts';
import { whenWords } from '../../../platform/words/times.ts';
import {
  daysToNitrate,
  type Forecast,
  probabilityAbove,
  type RiseReason,
} from '../../../science/filter/nitrate-forecast.ts';
import type { NitrateState } from '../../../science/filter/nitrate-types.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { weeklyShare } from '../../../water/demand/nutrient-words.rules.ts';
import { dailyAmountWords } from '../../../water/demand/words.rules.ts';
import { NITRATE_DAYS_AHEAD as horizon } from '../../../water/estimates/nitrate.rules.ts';
import { changesDoNotHold } from '../../../water/nutrients/plan.rules.ts';
import { say, sayDifference, show } from '../../../water/quantities/quantities.ts';
import type { QuantityFact, SystemFacts } from '../../facts/types.ts';
import { dateOfDay, percent } from '../shared/words.ts';
import type { NitrateSaid } from './nutrient-words.ts';

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
  if (reason?.main === 'fewer changes') return `${name}: nitrate is rising, fewer changes logged`;
  if (reason?.main === 'both') return `${name}: nitrate is rising, more made, fewer changes`;
  return `${name}: nitrate is rising`;
}

/** Level, where it tends, and when the limit is reached. */
export function creepNumbers(
  quantity: QuantityFact,
  said: NitrateSaid,
  reach: LimitForecast | null,
  facts: SystemFacts,
  now: Date,
): string {
  const here = [said.level, said.settles]
    .flatMap((figure) => (figure === null ? [] : [figure.text]))
    .join(', ');
  if (reach === null || reach.days === null || reach.days > 365) return here;
  if (reach.days === 0) return `${here}; the limit of ${say(quantity, reach.limit)} is passed`;
  const day = dateOfDay(dayOf(now) + Math.ceil(reach.days), facts);
  return `${here}; ${say(quantity, reach.limit)} is reached about ${day}`;
}

/** "14.6 mg/L", "± 0.9, tested 15.2; 18.7 in 60 days": a letter has few words; the figures give the range of the forecast. */
export function creepLarge(
  quantity: QuantityFact,
  { level, levelSd }: NitrateState,
  ahead: Forecast,
  last: { value: number; below: boolean } | undefined,
): Finding['large'] {
  const { text, unit } = show(quantity, level);
  const test =
    last === undefined ? '' : `, tested ${last.below ? 'below ' : ''}${show(quantity, last.value).text}`;
  const spread = withoutUnit(sayDifference(quantity, levelSd, level));
  return { text, unit, more: `± ${spread}${test}; ${show(quantity, ahead.value).text} in ${horizon} days` };
}

/** "18.7 mg/L as NO₃ (15.1 to 22.3)": the forecast with its 95 % interval. */
function aheadWords(quantity: QuantityFact, { value, sd }: Forecast): string {
  const [low, high] = [-1, 1].map((side) => show(quantity, Math.max(0, value + side * 1.96 * sd)).text);
  return `${say(quantity, value)} (${low} to ${high})`;
}

/** "23.7 mg/L as NO₃, 30 Nov 08:00". */
export const lastTestWords = (
  quantity: QuantityFact,
  { value, below, at }: { value: number; below: boolean; at: string },
  { timeZone }: SystemFacts,
  now: Date,
): string => `${say(quantity, value, below)}, ${whenWords(at, timeZone, now)}`;

/** What is known, in words. */
export function creepFigures(
  quantity: QuantityFact,
  state: NitrateState,
  said: NitrateSaid,
  reach: LimitForecast | null,
  last: string,
  ahead: Forecast,
): Finding['figures'] {
  const { own } = state;
  const before = (text: string) => (own === null ? '' : `; before, ${text}`);
  const rate = (value: number) => `${dailyAmountWords(quantity, value, state.level)} a day`;
  return [
    { label: 'Level', text: said.level?.text ?? '' },
    ...(last === '' ? [] : [{ label: 'Last test', text: last }]),
    {
      label: 'Made a day, changes taken out',
      text: `${said.production?.text ?? 'not known'}${before(rate(own?.production ?? 0))}`,
    },
    {
      label: 'Changed',
      text: `${said.exchange.text}${before(percent(weeklyShare(own?.exchange ?? 0)))}`,
    },
    { label: `In ${horizon} days`, text: aheadWords(quantity, ahead) },
    { label: 'With the recent water changes', text: `it ${said.settles?.text ?? 'goes on rising'}` },
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
  chance < 0.01 ? 'hardly: less than 1 % likely' : `at least ${percent(chance)} likely`;

/** What each of the two adds, and why it matters. */
export function creepWhy(quantity: QuantityFact, reason: RiseReason | null): string {
  const part = (rise = 0) => {
    const words = say(quantity, Math.max(0, rise));
    return words === say(quantity, 0) ? null : words;
  };
  const [made, kept] = [part(reason?.byProduction), part(reason?.byExchange)];
  const slow = 'A slow rise is easy to miss between water changes.';
  if (made === null && kept === null) return slow;
  const parts =
    made === null
      ? `fewer water changes add ${kept}`
      : `the system adds ${made} more than it did${kept === null ? '' : `, fewer water changes ${kept}`}`;
  return `In ${horizon} days ${parts}. ${slow}`;
}

/** Export more, with the changes that bring it to what is wanted; then feed less. */
export function exportStep({ aim, plan, target }: NitrateSaid, reason: RiseReason | null): Advice {
  const fewer = reason?.main === 'fewer changes';
  const start = fewer ? 'Take the changes up again' : 'Export more: skim wetter, take detritus out';
  const acts = [up('export'), done('water')];
  // Where changes do not hold it, none is asked for beside the habit.
  if (plan === null || aim.plan?.holds === false)
    return correct(`${start}. ${changesDoNotHold}.`, ...(fewer ? acts : [up('export')]));
  return noted(
    correct(
      `${start}. Change water: ${plan.text}. Feed less only if it still rises after three weeks.`,
      ...acts,
    ),
    `These changes hold it near ${target.text}.`,
  );
}

/** The changes that are offered as a routine: none where they do not hold it. */
export const changesAsked = ({ aim: { plan } }: Pick<NitrateSaid, 'aim'>): Finding['changes'] =>
  plan === null || !plan.holds ? null : plan.later;

/** Asked where fewer changes are logged than usual. */
export function creepQuestion(facts: SystemFacts, state: NitrateState, today: number): string {
  const last = facts.changes.at(-1);
  const since = last === undefined ? null : Math.floor(today - last.day);
  const usual = state.own?.exchange ?? 0;
  const thin = state.habit.exchange < 0.8 * usual || (since !== null && since > 10);
  if (!thin) return '';
  if (since === null)
    return 'Were water changes done? None is logged. Log those that were: the forecast counts them.';
  return `Were the changes done? The last one was logged ${dayCount(since)} ago. Log those that were: the forecast counts them.`;
}

/** The logged changes since a day. */
export function changeEvidence(facts: SystemFacts, since: number): Finding['evidence'] {
  return facts.changes
    .filter(({ day }) => day >= since)
    .map(({ id, at, fraction, volumeL }) => ({
      kind: 'water change' as const,
      id,
      at,
      text: `${litres(Math.round(volumeL))}, ${percent(fraction)}`,
      note: '',
    }));
}
