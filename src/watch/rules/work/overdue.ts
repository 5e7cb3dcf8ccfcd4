import { type Advice, advised, done, measure, optimise, up } from '../../../alerts/advice.ts';
import {
  type Finding,
  type FindingKey,
  mostUrgent,
  plainFinding,
  type Severity,
} from '../../../alerts/finding.ts';
import { calendarDayOf, dayNumber, localDay } from '../../../platform/days.ts';
import { plural } from '../../../platform/words/numbers.ts';
import { dateWords } from '../../../platform/words/times.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { cadenceWords, nextDueDay } from '../../../water/routines/routines.rules.ts';
import { momentOfDay, type RoutineFact, type SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { overdueEnded } from '../endings/things.ts';
import { figure } from '../shared/words.ts';

const parameters = {
  share: {
    label: 'Told when late by this share of its interval',
    unit: '%',
    default: 50,
    low: 10,
    high: 300,
    source: 'own choice: half an interval is more than a busy day explains',
  },
  leastDays: {
    label: 'Told when late by at least',
    unit: 'days',
    default: 1,
    low: 1,
    high: 14,
    source: 'own choice: what is due today may be done until the evening of tomorrow',
  },
} as const;

const rule = 'overdue';

/** Recurring work that was planned and not done. */
export const overdue = defineRule({
  name: rule,
  heading: 'Test, water change, dose or feeding overdue',
  watches:
    'Work planned to come again is overdue when nothing of the kind was logged for half its interval, at least a day, past its day. Where nothing is planned, nothing is overdue.',
  byKind: false,
  parameters,
  quietHours: 0,
  ended: overdueEnded,
  evaluate(facts, settings, now) {
    const late = facts.routines
      .map((routine) => lateness(routine, facts.timeZone, settings(), now))
      .filter((one) => one.days >= one.allowed)
      .sort((a, b) => b.score - a.score);
    const together: FindingKey = { rule, subject: { type: 'system', id: facts.systemId }, facet: 'several' };
    const causes = late.length > 1 ? [together] : [];
    const each = late.map((one) => finding(facts, one, causes));
    return late.length > 1 ? [several(facts, together, each), ...each] : each;
  },
});

interface Late {
  routine: RoutineFact;
  /** Local day on which it was due. */
  dueOn: string;
  /** Whole days past it, and how many are borne. */
  days: number;
  allowed: number;
  score: number;
}

/** A moment's local day as days since 1970. */
const dayThere = (day: number, timeZone: string) => dayNumber(localDay(momentOfDay(day), timeZone));

function lateness(
  routine: RoutineFact,
  timeZone: string,
  { share, leastDays }: Values<typeof parameters>,
  now: Date,
): Late {
  const { everyDays, weekdays, startsDay, lastDay } = routine;
  const cadence = { everyDays, weekdays, startsDay: dayThere(startsDay, timeZone) };
  const due = nextDueDay(cadence, lastDay === null ? null : dayThere(lastDay, timeZone));
  const days = dayThere(dayOf(now), timeZone) - due;
  const allowed = Math.max(leastDays, (everyDays * share) / 100);
  return { routine, dueOn: calendarDayOf(due), days, allowed, score: days / allowed };
}

/** More than a whole interval past is for today, less for watching. */
const severityOf = ({ routine, days }: Late): Severity => (days > routine.everyDays ? 'today' : 'watch');

const risk: Record<RoutineFact['work'], string> = {
  test: 'Until it is tested nobody knows the level: alerts on it use old figures.',
  water_change: 'What water changes carry out and bring in adds up: nitrate rises, trace elements run down.',
  dose: 'What corals take up is not made good while it is left out.',
  feeding: 'What eats lives on it, and stock that is fed irregularly makes the water less steady.',
};

const doing: Record<RoutineFact['work'], (routine: RoutineFact) => Advice> = {
  test: () => measure('Test it on the next round.'),
  water_change: () =>
    optimise(
      'Do it with the next round. Do not make up for what was missed by one larger change.',
      done('water'),
    ),
  dose: ({ quantityCode }) =>
    optimise(
      'Test first, then go on with the usual dose. Never give what was missed on top of it.',
      up('dose', quantityCode ?? ''),
    ),
  feeding: () => optimise('Feed the usual amount. Do not give what was missed on top of it.', up('food')),
};

function finding(facts: SystemFacts, late: Late, causes: FindingKey[]): Finding {
  const { routine, dueOn, days, allowed, score } = late;
  const { id, words, lastDay, work } = routine;
  const last = lastDay === null ? 'never logged' : `last ${dateWords(momentOfDay(lastDay), facts.timeZone)}`;
  return {
    ...plainFinding,
    rule,
    subject: { type: 'system', id: facts.systemId },
    facet: id,
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}/routines`,
    status: 'fires',
    severity: severityOf(late),
    score,
    title: `${facts.name}: ${words} overdue by ${plural(days, 'day', 'days')}`,
    numbers: `due ${dateWords(dueOn, facts.timeZone)}, ${cadenceWords(routine)}; ${last}`,
    number: figure('Overdue by', days, 0, 'days'),
    limit: { ...figure('Allowed', allowed, 1, 'days'), source: parameters.share.source },
    why: risk[work],
    ...advised(doing[work](late.routine)),
    question: 'Was it done and not logged? Then enter it with its time.',
    causes,
  };
}

function several(facts: SystemFacts, key: FindingKey, each: readonly Finding[]): Finding {
  const [worst] = each as [Finding];
  return {
    ...worst,
    ...key,
    severity: mostUrgent(each.map(({ severity }) => severity)),
    title: `${facts.name}: ${each.length} routines are overdue`,
    numbers: worst.title.replace(`${facts.name}: `, ''),
    why: 'Several at once is mostly one cause: nobody walked past, or what was done was not logged.',
    ...advised(
      measure('Ask who was to walk here.'),
      optimise(
        'Then do what is due in the order of the round. Make up for nothing by doing more at once.',
        ...each.flatMap(({ advice }) => advice.flatMap(({ acts }) => acts)),
      ),
    ),
    causes: [],
  };
}
