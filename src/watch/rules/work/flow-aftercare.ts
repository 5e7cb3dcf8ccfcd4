import { advised, measure, notUp, source } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { whenWords } from '../../../platform/words/times.ts';
import { momentOfDay, type SwitchedOffFact, type SystemFacts } from '../../facts/types.ts';
import { figure } from '../shared/words.ts';

/** What stops the water of a filter. */
const still: readonly string[] = ['all_flow', 'return_pump'];

/** What a filter without flow lets rise, and when after the pumps run again it is looked for, hours. */
const looked = ['ammonia', 'nitrite'];
const hours = [0, 24, 48];
/** A test this long before its hour is one for it. */
const early = 3 / 24;
/** Nothing more is asked this long after the last test was due. */
const over = 24;

/** After pumps were off for hours: the tests of ammonia and nitrite that are due and were not made yet. */
export function flowAftercare(
  facts: SystemFacts,
  { longHours }: { longHours: number },
  today: number,
): Finding[] {
  const long = facts.switchedOff.filter(
    ({ thing, day, onDay }) => still.includes(thing) && onDay !== null && (onDay - day) * 24 >= longHours,
  );
  const last = long.toSorted((a, b) => (a.onDay ?? 0) - (b.onDay ?? 0)).at(-1);
  if (last === undefined) return [];
  const missing = missingTests(facts, last.onDay ?? 0, today);
  return missing.length === 0 ? [] : [finding(facts, last, missing, today)];
}

/** What was due by now and has no reading from its hour on, until the next is due. */
function missingTests(facts: SystemFacts, onDay: number, today: number): string[] {
  if (today > onDay + ((hours.at(-1) ?? 0) + over) / 24) return [];
  const due = onDay + (hours.findLast((after) => today >= onDay + after / 24) ?? 0) / 24;
  return looked.filter((code) => {
    const readings = facts.readings.get(code) ?? [];
    return (
      facts.quantities.has(code) && !readings.some(({ day }) => day >= due - (due === onDay ? 0 : early))
    );
  });
}

function finding(
  facts: SystemFacts,
  off: SwitchedOffFact,
  missing: readonly string[],
  today: number,
): Finding {
  const { id, at, what, why, day, tankId, tankName } = off;
  const onDay = off.onDay ?? day;
  const hoursOff = (onDay - day) * 24;
  const on = whenWords(momentOfDay(onDay), facts.timeZone, momentOfDay(today));
  const place = tankId === null ? facts.name : `${facts.name}, ${tankName}`;
  const names = missing.join(' and ');
  return {
    ...plainFinding,
    rule: 'still-off',
    subject: { type: 'system', id: facts.systemId },
    facet: 'tests afterwards',
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}/readings/new`,
    status: 'fires',
    severity: 'today',
    score: 1,
    title: `${place}: pumps were off; test ${names}`,
    numbers: `on again ${on}`,
    number: figure('Pumps were off for', hoursOff, 1, 'h'),
    limit: {
      ...figure('Tests wanted after', 0, 0, 'h'),
      source: 'hours after the pumps run again: 0, 24 and 48; common practice',
    },
    figures: [],
    why: 'A filter without flow can take days to work as before. Ammonia and nitrite show it before the animals do.',
    ...advised(
      source('Feed little until both stay at zero.', notUp('food')),
      measure(`Test ${names} now, then a day and two days after the pumps came on.`),
    ),
    question: 'Were they off that long, or was only the note late? If so, put this off with that reason.',
    evidence: [{ kind: 'switched off', id, at, text: what, note: `${why}; off until ${on}` }],
  };
}
