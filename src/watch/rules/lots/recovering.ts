import {
  type Advice,
  advised,
  again,
  correct,
  hold,
  measure,
  notUp,
  optimise,
  up,
} from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { dayCount } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { lookEnded } from '../endings/places.ts';
import { conditionInSentence, lookEvidence, lookInSentence } from '../shared/conditions.ts';
import { whereWords } from '../shared/place-words.ts';
import { type Recovery, recoveryOf, wellApart } from '../shared/recovery.ts';
import { dateOfDay, figure } from '../shared/words.ts';

const source = 'own choice: tissue can go within days at first; later a change shows over weeks';
const parameters = {
  first: {
    label: 'Days between looks in the first two weeks',
    unit: 'd',
    default: 3,
    low: 1,
    high: 14,
    source,
  },
  later: { label: 'Days between looks until two months', unit: 'd', default: 7, low: 1, high: 30, source },
  last: { label: 'Days between looks after that', unit: 'd', default: 14, low: 1, high: 60, source },
};

const [firstDays, laterDays] = [14, 60];
const shownLooks = 12;
/** From how many days on it is followed here; before that it is a lot not well at its last look. */
const settled = 3;
const scores: Record<Severity, number> = { watch: 1, today: 2, now: 3 };

/** A lot that bleached or receded, followed until it is well for weeks. */
export const recovering = defineRule({
  name: 'recovering',
  heading: 'Recovery',
  watches: `Follows every lot that bleached or receded, over months: it says when to check, whether it gets better, and ends when the lot was well at two checks at least ${wellApart} days apart.`,
  byKind: true,
  parameters,
  quietHours: 0,
  ended: lookEnded,
  evaluate(facts, settings, now) {
    return facts.lots.flatMap((lot) => {
      const recovery = lot.conditions.length === 0 ? null : recoveryOf(lot.conditions);
      if (recovery === null) return [];
      const today = dayOf(now);
      if (today - recovery.sinceDay < settled && recovery.looks.length < 2) return [];
      const { first, later, last } = settings(lot.kindIds);
      const age = today - recovery.sinceDay;
      const every = age <= firstDays ? first : age <= laterDays ? later : last;
      return [finding(facts, lot, recovery, every, today)];
    });
  },
});

function finding(
  facts: SystemFacts,
  lot: LotFact,
  recovery: Recovery,
  every: number,
  today: number,
): Finding {
  const [latest] = recovery.looks;
  const seen = latest?.day ?? recovery.sinceDay;
  const [days, ago] = [Math.floor(today - recovery.sinceDay), Math.floor(today - seen)];
  const severity: Severity = recovery.trend > 0 || ago >= every ? 'today' : 'watch';
  const [began] = recovery.looks.slice(-1);
  return {
    ...plainFinding,
    rule: 'recovering',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    status: 'fires',
    severity,
    score: scores[severity] + recovery.now / 10,
    title: titleOf(lot, recovery, severity),
    numbers: `${dayCount(days)}; last check ${dateOfDay(seen, facts)}: ${latest === undefined ? '' : lookInSentence(latest)}`,
    number: figure('Days since the last check', ago, 0, 'd'),
    limit: { ...figure('Check due after', every, 0, 'd'), source },
    figures: figuresOf(recovery, began === undefined ? '' : conditionInSentence(began), facts),
    why: 'A coral that bleached or receded lives on its reserves for months; what helps is a dim, calm place left unchanged, and small food.',
    ...advised(...stepsOf(recovery, ago >= every)),
    evidence: recovery.looks.slice(0, shownLooks).map(lookEvidence),
    // While it is not well, the alert on its looks speaks for it.
    causes: [{ rule: 'condition-noted', subject: { type: 'lot', id: lot.id }, facet: '' }],
  };
}

function titleOf(lot: LotFact, { trend, now, wellLooks }: Recovery, severity: Severity): string {
  const where = whereWords(lot);
  if (trend > 0) return `${where}: its recovery turned, it is worse`;
  if (wellLooks > 0) return `${where}: well again, check once more`;
  const course = trend < 0 ? 'recovering' : now > 0 ? 'no longer recovering' : 'recovering';
  return `${where}: ${course}${severity === 'today' ? ', check it' : ''}`;
}

function figuresOf(recovery: Recovery, began: string, facts: SystemFacts): Finding['figures'] {
  const course = {
    '-1': 'better than at the check before',
    '0': 'as at the check before',
    '1': 'worse than at the check before',
  };
  const since = recovery.wellSinceDay;
  return [
    { label: 'It began with', text: `${began}, ${dateOfDay(recovery.sinceDay, facts)}` },
    { label: 'Course', text: course[`${recovery.trend}`] },
    {
      label: 'Ends',
      text:
        since === null
          ? `when it is well at two looks at least ${wellApart} days apart`
          : `when it is well at a look on or after ${dateOfDay(since + wellApart, facts)}`,
    },
  ];
}

function stepsOf({ trend, wellLooks }: Recovery, overdue: boolean): Advice[] {
  if (trend > 0)
    return [
      measure('Look for what changed: its light, flow, neighbours, nitrate.'),
      correct('Take the last change back.'),
      again('Look again tomorrow.'),
    ];
  const look = overdue ? [measure('Look at it today and note how it is.')] : [];
  return wellLooks > 0
    ? [
        ...look,
        correct(
          'Leave it where it is until the watch ends. Raise its light only then, by steps.',
          hold('place'),
          notUp('light'),
        ),
      ]
    : [
        ...look,
        correct('Leave it in its dim place.', hold('place'), notUp('light')),
        optimise('Feed it small food when its tentacles are out.', up('food')),
      ];
}
