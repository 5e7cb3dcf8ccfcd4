import { type Advice, advised, measure, notUp, source } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { whenWords } from '../../../platform/words/times.ts';
import { type EventFact, momentOfDay, type SwitchedOffFact, type SystemFacts } from '../../facts/types.ts';
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

/** After pumps were off for hours, the power was cut or many animals were lost: the tests of ammonia and nitrite that are due and were not made yet. */
export function flowAftercare(
  facts: SystemFacts,
  { longHours }: { longHours: number },
  today: number,
): Finding[] {
  const long = facts.switchedOff.filter(
    ({ thing, day, onDay }) => still.includes(thing) && onDay !== null && (onDay - day) * 24 >= longHours,
  );
  const happened = facts.events.filter((event) => event.kind in afterEvents && event.day <= today);
  const [last] = [
    ...long.map((off) => ofPumps(facts, off, today)),
    ...happened.map((event) => ofEvent(facts, event, today)),
  ].toSorted((a, b) => b.day - a.day);
  if (last === undefined) return [];
  const missing = missingTests(facts, last.day, today);
  return missing.length === 0 ? [] : [finding(facts, last, missing)];
}

/** What is asked for after something: what it was in words, and from when the tests are counted. */
interface After {
  day: number;
  title: string;
  numbers: string;
  number: Finding['number'];
  source: string;
  why: string;
  steps: Advice[];
  question: string | undefined;
  evidence: Finding['evidence'];
}

/** Events after which ammonia rises within hours: what stood still, and what died. Common practice. */
const afterEvents: Readonly<
  Partial<Record<EventFact['kind'], { words: string; why: string; step: string }>>
> = {
  power_cut: {
    words: 'the power was cut',
    why: 'A filter without flow can take days to work as before. Ammonia and nitrite show it before the animals do.',
    step: 'See that every pump turns and every heater warms, and read temperature and oxygen.',
  },
  mass_loss: {
    words: 'many animals were lost',
    why: 'What rots makes ammonia within hours and takes the oxygen.',
    step: 'Take out what is dead, turn air up, and read oxygen.',
  },
};

function ofEvent(facts: SystemFacts, { kind, day, note }: EventFact, today: number): After {
  const { words, why, step } = afterEvents[kind] ?? { words: '', why: '', step: '' };
  const when = whenWords(momentOfDay(day), facts.timeZone, momentOfDay(today));
  return {
    day,
    title: `${facts.name}: ${words}`,
    numbers: note === '' ? when : `${when}, “${note}”`,
    number: figure('Hours since', (today - day) * 24, 0, 'h'),
    source: 'hours after it: 0, 24 and 48; common practice',
    why,
    steps: [source(step)],
    question: undefined,
    evidence: [],
  };
}

function ofPumps(
  facts: SystemFacts,
  { id, at, what, why, day, onDay: on, tankId, tankName }: SwitchedOffFact,
  today: number,
): After {
  const onDay = on ?? day;
  const until = whenWords(momentOfDay(onDay), facts.timeZone, momentOfDay(today));
  return {
    day: onDay,
    title: `${tankId === null ? facts.name : `${facts.name}, ${tankName}`}: pumps were off`,
    numbers: `on again ${until}`,
    number: figure('Pumps were off for', (onDay - day) * 24, 1, 'h'),
    source: 'hours after the pumps run again: 0, 24 and 48; common practice',
    why: 'A filter without flow can take days to work as before. Ammonia and nitrite show it before the animals do.',
    steps: [],
    question: 'Were they off that long, or was only the note late? If so, put this off with that reason.',
    evidence: [{ kind: 'switched off', id, at, text: what, note: `${why}; off until ${until}` }],
  };
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
  { title, numbers, number, source: limit, why, steps, question, evidence }: After,
  missing: readonly string[],
): Finding {
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
    title: `${title}; test ${names}`,
    numbers,
    number,
    limit: { ...figure('Tests wanted after', 0, 0, 'h'), source: limit },
    figures: [],
    why,
    ...advised(
      ...steps,
      source('Feed little until both stay at zero.', notUp('food')),
      measure(`Test ${names} now, then a day and two days later.`),
    ),
    ...(question === undefined ? {} : { question }),
    evidence,
  };
}
