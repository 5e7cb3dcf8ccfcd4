import { type Evidence, type Finding, plainFinding } from '../../../alerts/finding.ts';
import { plural } from '../../../platform/words/numbers.ts';
import { timeWords, whenWords } from '../../../platform/words/times.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { PUMPS_GRACE_MIN } from '../../../water/log/feedings.rules.ts';
import { type FeedingFact, momentOfDay, type SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { figure } from '../shared/words.ts';
import { pumpsAftercare } from './pumps-aftercare.ts';

const parameters = {
  graceMinutes: {
    label: 'After the planned minutes, call when this many more have passed',
    unit: 'min',
    default: PUMPS_GRACE_MIN,
    low: 0,
    high: 60,
    source: 'own choice: time to walk back and say so',
  },
  longHours: {
    label: 'Ask for ammonia and nitrite tests when the pumps were off for',
    unit: 'h',
    default: 3,
    low: 1,
    high: 24,
    source:
      'own choice; reported cases of 12 and 17 h off showed nitrite afterwards, tested at once, after a day and after two',
  },
} as const;

const minute = 1 / 1440;
/** Told as worse when an hour, four and twelve hours have passed; own choice. */
const grave = [60, 240, 720];

/** Pumps that nobody has said to run again after a feeding. */
export const pumpsStillOff = defineRule({
  name: 'pumps-still-off',
  heading: 'Pumps still off after feeding',
  watches:
    'Each feeding with the pumps off starts their time. When nobody says that they run again, somebody is called; once they ran late by hours, ammonia and nitrite are asked for at once, after a day and after two.',
  byKind: false,
  parameters,
  quietHours: 0,
  untried: 'This rule counts minutes; tried once a day it shows only what was still off at that hour.',
  cleared: 'the pumps run again, as somebody said',
  evaluate(facts, settings, now) {
    const today = dayOf(now);
    const off = facts.feedings.filter(
      ({ pumpsOffMin, pumpsOnDay, day }) =>
        pumpsOffMin !== null &&
        pumpsOnDay === null &&
        today >= day + (pumpsOffMin + settings().graceMinutes) * minute - minute / 60,
    );
    const places = Map.groupBy(off, ({ tankId }) => tankId ?? facts.systemId);
    return [
      ...[...places].map(([placeId, feedings]) => finding(facts, placeId, feedings, { today, now })),
      ...pumpsAftercare(facts, settings(), today),
    ];
  },
});

function finding(
  facts: SystemFacts,
  placeId: string,
  feedings: readonly FeedingFact[],
  { today, now }: { today: number; now: Date },
): Finding {
  const [first] = feedings as [FeedingFact];
  const { pumpsOffMin, tankId, tankName, day } = first;
  const planned = pumpsOffMin ?? 0;
  const off = (today - day) / minute;
  const dueAt = momentOfDay(day + planned * minute);
  const place = tankId === null ? facts.name : `${facts.name}, ${tankName}`;
  return {
    ...plainFinding,
    rule: 'pumps-still-off',
    subject: { type: tankId === null ? 'system' : 'tank', id: placeId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}/feedings`,
    status: 'fires',
    severity: 'now',
    score: 2 ** grave.filter((minutes) => off - planned >= minutes).length,
    title: `${place}: pumps still off after feeding`,
    numbers: `off since ${timeWords(first.at, facts.timeZone)}, should be on since ${whenWords(dueAt, facts.timeZone, now)}`,
    number: figure('Off for', Math.round(off), 0, 'min'),
    limit: { ...figure('Planned', planned, 0, 'min'), source: 'as the feeding was entered' },
    figures: [],
    why: 'Without circulation oxygen falls, heat is not spread, and within hours a filter and a sea bed without flow begin to die off.',
    firstStep: `Go there, switch the pumps on, see that water moves in every tank, then say so on the feeding.${off > 120 ? ' Watch the animals for gaping and slime, and test ammonia and nitrite at once.' : ''}`,
    evidence: feedings.map((feeding) => evidenceOf(feeding)),
  };
}

export const evidenceOf = ({ id, at, food, pumpsOffMin }: FeedingFact): Evidence => ({
  kind: 'feeding',
  id,
  at,
  text: food,
  note: pumpsOffMin === null ? '' : `pumps off for ${plural(pumpsOffMin, 'minute', 'minutes')}`,
});
