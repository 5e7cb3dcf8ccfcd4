import { advised, measure } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { whenWords } from '../../../platform/words/times.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { type LookFact, momentOfDay, type SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { lookEnded } from '../endings/things.ts';
import { figure } from '../shared/words.ts';

const minute = 1 / 1440;
/** A second before its minute counts as that minute. */
const second = minute / 60;
/** A look after trouble concerns everybody when it is this late, minutes; told as worse after these. Own choices. */
const lateMin = 120;
const grave = [30, 120, 480];

/** A look that was asked for while something was wrong, or after it, and that nobody took. */
export const lookOverdue = defineRule({
  name: 'look-overdue',
  heading: 'A check that nobody did',
  watches:
    'While something is wrong each check has a time. When it has passed and nobody said that they looked, somebody has to go now. A check after trouble that is over is for today, and after two hours for now.',
  byKind: false,
  parameters: {},
  quietHours: 0,
  untried: 'This rule counts minutes; tried once a day it shows only what was still due at that hour.',
  ended: lookEnded,
  evaluate(facts, _settings, now) {
    return facts.looks
      .filter(({ doneDay, dueDay }) => doneDay === null && dayOf(now) >= dueDay - second)
      .map((look) => finding(facts, look, now));
  },
});

function finding(facts: SystemFacts, look: LookFact, now: Date): Finding {
  const over = Math.max(0, (dayOf(now) - look.dueDay) / minute);
  return {
    ...plainFinding,
    rule: 'look-overdue',
    subject: { type: 'system', id: facts.systemId },
    facet: look.id,
    systemId: facts.systemId,
    href: look.href,
    status: 'fires',
    severity: look.urgent || over >= lateMin ? 'now' : 'today',
    score: 2 ** grave.filter((minutes) => over >= minutes).length,
    title: `${facts.name}: nobody has looked yet`,
    numbers: `${look.title}, due ${whenWords(momentOfDay(look.dueDay), facts.timeZone, now)}`,
    number: figure('Overdue by', Math.round(over), 0, 'min'),
    limit: { ...figure('Asked for at once', 0, 0, 'min'), source: 'the time that was set with the look' },
    figures: [],
    why: look.urgent
      ? 'Something is wrong and has not ended. Whether what was done helps shows only when somebody looks.'
      : 'What was put right fails again most often within the first hours.',
    ...advised(
      measure(`Go there and look${look.detail === '' ? '' : `: ${look.detail}`}. Then say so on its page.`),
    ),
    evidence: [],
  };
}
