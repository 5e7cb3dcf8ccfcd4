import { advised, correct, done, measure, up } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { trackUnloggedNitrate, unloggedLimit } from '../../../science/filter/nitrate-unlogged.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { nitrateHistory } from '../../../water/estimates/nitrate-history.rules.ts';
import { say } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { amount, percent, quantityNamed, readingEvidence, study } from '../shared/words.ts';

const shownReadings = 20;
/** Below this part of the limit an alert grows quiet. */
const stay = 0.7;

/** Where no water change was ever logged: the smoothed level over the system's own, without saying what rose. */
export function judgeWithoutChanges(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  { smallest }: { smallest: number },
  now: Date,
): Finding | null {
  const quantity = quantityNamed(facts, 'nitrate');
  const usable = nitrateHistory(facts, readings).readings.filter(({ value }) => value > 0);
  const step = trackUnloggedNitrate(usable).at(-1);
  const last = usable.at(-1);
  if (step?.rise == null || step.ownLevel === null || last === undefined) return null;
  const limit = unloggedLimit(Math.min(1, last.relativeSd));
  if (step.rise < stay * limit || step.level < smallest) return null;
  const upper = facts.kept.get('nitrate')?.limitHigh ?? null;
  return {
    ...plainFinding,
    rule: 'nitrate-creep',
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status: step.rise >= limit ? 'fires' : 'stays',
    severity: upper !== null && step.level >= upper ? 'now' : 'today',
    score: step.rise / limit,
    title: `${facts.name}: nitrate rises over its own level`,
    numbers: `${say(quantity, step.level)} now, usually ${say(quantity, step.ownLevel)}`,
    number: amount(quantity, 'Level, smoothed over ten days', step.level),
    limit: {
      ...amount(
        quantity,
        `${percent(Math.expm1(limit))} over the own level`,
        step.ownLevel * Math.exp(limit),
      ),
      source: `From the ${study}, by the test’s uncertainty; used because no water change is logged here.`,
    },
    ...(facts.neverChanged ? neverChangedWords : unloggedWords(dayOf(now) - (readings[0]?.day ?? 0))),
    evidence: readingEvidence(quantity, readings.slice(-shownReadings)),
  };
}

const exportMore =
  'Then export more: skim wetter, take detritus out, change water. Feed less only if that does not help.';

const advisedAfter = (test: string) =>
  advised(measure(test), correct(exportMore, up('export'), done('water')));

const neverChangedWords = {
  why: 'No water is changed here, so what feeding brings stays until something takes it out.',
  ...advisedAfter('Test again with another kit.'),
};

const unloggedWords = (days: number) => ({
  why: 'No water change is logged here, so the watch cannot tell more production from fewer changes.',
  ...advisedAfter('Log the water changes of the last weeks.'),
  question: `Were water changes done? None is logged in the ${Math.round(days)} days on record.`,
});
