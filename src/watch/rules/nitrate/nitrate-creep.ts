import { advised, measure } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import {
  explainNitrateRise,
  forecastNitrate,
  nitrateRise,
} from '../../../science/filter/nitrate-forecast.ts';
import type { NitrateState } from '../../../science/filter/nitrate-types.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import {
  estimateNitrate,
  NITRATE_DAYS_AHEAD as horizon,
  learntReadings,
  type NitrateEstimate,
} from '../../../water/estimates/nitrate.rules.ts';
import { say } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { waterEnded } from '../endings/water.ts';
import { kitJudgements } from '../levels/kit-bias.ts';
import { relyingOnConfirmed } from '../levels/trusted-readings.ts';
import { amount, quantityNamed, readingEvidence, study } from '../shared/words.ts';
import {
  changeEvidence,
  changesAsked,
  creepFigures,
  creepLarge,
  creepNumbers,
  creepQuestion,
  creepTitle,
  creepWhy,
  exportStep,
  type LimitForecast,
  lastTestWords,
  limitForecast,
} from './creep-words.ts';
import { nitrateSaid } from './nutrient-words.ts';
import { judgeWithoutChanges } from './unlogged-changes.ts';

const parameters = {
  rise: {
    label: 'Alert when the forecast is so many times the usual level',
    unit: 'times',
    default: 1.3,
    low: 1.1,
    high: 2.5,
    source: `${study}: about 0.3 false alerts a system and year where production wanders; 1.2 warns sooner, 1.45 warns less often`,
  },
  stays: {
    label: 'Close below so many times the usual level',
    unit: 'times',
    default: 1.2,
    low: 1,
    high: 2.5,
    source: 'own choice: clearly below what opens it',
  },
  smallest: {
    label: 'Ignore forecasts below',
    unit: 'mg/L as NO₃',
    default: 5,
    low: 0,
    high: 50,
    source: 'own choice: well within what reef water is kept at, 1 to 20 mg/L (common practice)',
  },
  days: {
    label: 'Days of tests needed first',
    unit: 'd',
    default: 60,
    low: 40,
    high: 365,
    source: `${study}: an own level is known from about 60 days`,
  },
  soon: {
    label: 'Act now when it reaches the upper limit within',
    unit: 'd',
    default: 14,
    low: 1,
    high: 60,
    source: 'own choice: two weeks leave time for changes in small steps',
  },
};

/** The numbers of the rule, for its fallback. */
type CreepSettings = Values<typeof parameters>;

const caution = 0.84;
const staleDays = 30;
const fewestReadings = 8;
const shownReadings = 20;

/** Nitrate rising beneath the saw-tooth of the water changes. */
export const nitrateCreep = defineRule({
  name: 'nitrate-creep',
  heading: 'Nitrate creep',
  watches:
    'Follows level, net production and kit bias through every logged water change, and alerts when the forecast for 60 days with the water changes of the last weeks is clearly above the system’s own level. It says whether production rose or changes fell off.',
  byKind: false,
  learns: true,
  parameters,
  quietHours: 7 * 24,
  ended: waterEnded('nitrate'),
  evaluate(facts, settings, now) {
    const all = learntReadings(facts, 'nitrate', kitJudgements(facts));
    const values = settings();
    const finding = relyingOnConfirmed(facts, 'nitrate', all, now, (readings) =>
      judge(facts, readings, values, now),
    );
    return finding === null ? [] : [finding];
  },
});

function judge(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  values: CreepSettings,
  now: Date,
): Finding | null {
  const today = dayOf(now);
  const [first, last] = [readings[0], readings.at(-1)];
  if (first === undefined || last === undefined || readings.length < fewestReadings) return null;
  const young = today - first.day < values.days;
  if (young || today - last.day > staleDays) return young ? null : unknown(facts, last);
  if (facts.changes.length === 0) return judgeWithoutChanges(facts, readings, values, now);
  const estimate = estimateNitrate(facts, readings, now);
  if (estimate === null || estimate.state.own === null) return null;
  // Judged by all tests: what is said starts from the last one, whose error alone would raise it now and then.
  const followed = estimate.track.now ?? estimate.state;
  const rise = nitrateRise(followed, horizon, caution);
  if (rise === null) return null;
  const forecast = forecastNitrate(followed, horizon);
  if (rise < values.stays || forecast.value < values.smallest) return null;
  return finding(facts, readings, estimate, rise, values, now);
}

/** Nothing was read for a month: what was open stays open. */
function unknown(facts: SystemFacts, last: ReadingFact): Finding {
  const quantity = quantityNamed(facts, 'nitrate');
  const level = amount(quantity, 'Last reading', last.value);
  return {
    ...plainFinding,
    ...subjectOf(facts),
    status: 'unknown',
    severity: 'watch',
    score: 1,
    title: `${facts.name}: nitrate has not been read for a month`,
    numbers: '',
    number: level,
    limit: { ...level, source: '' },
    why: 'Without readings nobody can say whether it still rises.',
    ...advised(measure('Test nitrate.')),
  };
}

const subjectOf = (facts: SystemFacts) => ({
  rule: 'nitrate-creep',
  subject: { type: 'system' as const, id: facts.systemId },
  systemId: facts.systemId,
  href: `/water/systems/${facts.systemId}`,
});

function finding(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  estimate: NitrateEstimate,
  rise: number,
  values: CreepSettings,
  now: Date,
): Finding | null {
  const { state } = estimate;
  const said = nitrateSaid(facts, estimate, now);
  if (said === null) return null;
  const quantity = quantityNamed(facts, 'nitrate');
  const own = state.own ?? { level: state.level, production: state.production, exchange: 0 };
  const reason = explainNitrateRise(state, horizon);
  const forecast = forecastNitrate(state, horizon);
  const reach = limitForecast(facts, state);
  // The newest test of all, also one that waits for its repeat: what is estimated is read beside it.
  const last = facts.readings.get('nitrate')?.at(-1);
  return {
    ...plainFinding,
    ...subjectOf(facts),
    status: rise >= values.rise ? 'fires' : 'stays',
    severity: severityOf(state, reach, values),
    score: rise / values.rise,
    title: creepTitle(facts, reason),
    numbers: creepNumbers(quantity, said, reach, facts, now),
    number: amount(quantity, `Forecast in ${horizon} days at the present habit`, forecast.value),
    large: creepLarge(quantity, state, forecast, last),
    limit: {
      ...amount(quantity, `${values.rise} times the system’s own level`, values.rise * own.level),
      source: `Own level ${say(quantity, own.level)}, mean of the level at least 28 days old; 80 % likely to pass it. The ratio: ${parameters.rise.source}.`,
    },
    figures: creepFigures(
      quantity,
      state,
      said,
      reach,
      last === undefined ? '' : lastTestWords(quantity, last, facts, now),
      forecast,
    ),
    said: said.all,
    changes: changesAsked(said),
    why: creepWhy(quantity, reason),
    ...advised(exportStep(said, reason)),
    question: creepQuestion(facts, state, dayOf(now)),
    evidence: [
      ...readingEvidence(quantity, readings.slice(-shownReadings)),
      ...changeEvidence(facts, readings.at(-shownReadings)?.day ?? 0),
    ].sort((a, b) => b.at.localeCompare(a.at)),
  };
}

function severityOf(state: NitrateState, reach: LimitForecast | null, { soon }: CreepSettings): Severity {
  if (reach === null) return 'today';
  return state.level >= reach.limit || (reach.days !== null && reach.days <= soon) ? 'now' : 'today';
}
