import { type Advice, advised, measure, notUp, source } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { andWords } from '../../../platform/words/lists.ts';
import { whenWords } from '../../../platform/words/times.ts';
import { type EventFact, momentOfDay, type SwitchedOffFact, type SystemFacts } from '../../facts/types.ts';
import {
  afterDeath,
  afterPower,
  afterPumps,
  ifEverRead,
  type Series,
  testsWords,
  wantedFigure,
} from '../shared/tests-afterwards.ts';
import { figure } from '../shared/words.ts';

/** What stops the water of a filter. */
const still: readonly string[] = ['all_flow', 'return_pump'];

/** A test this much of the time since the one before ahead of its hour is one for it, at most three hours. */
const earlyPart = 0.25;
const earliest = 3;
/** Nothing more is asked this long after the last test was due. */
const over = 24;

/** After pumps were off for hours, the power was cut or many animals were lost: the tests that are due and were not made yet. */
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
  const missing = missingTests(facts, last, today);
  return missing.length === 0 ? [] : [finding(facts, last, missing)];
}

/** What is asked for after something: what it was in words, and from when the tests are counted. */
interface After {
  day: number;
  series: Series;
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
  Partial<Record<EventFact['kind'], { words: string; why: string; step: string; series: Series }>>
> = {
  power_cut: {
    words: 'the power was cut',
    why: 'A filter without flow can take days to work as before. Ammonia and nitrite show it before the animals do.',
    step: 'See that every pump turns and every heater warms, and read temperature and oxygen.',
    series: afterPower,
  },
  mass_loss: {
    words: 'many animals were lost',
    why: 'What rots makes ammonia within hours and takes the oxygen.',
    step: 'Take out what is dead, turn air up, and read oxygen.',
    series: afterDeath,
  },
};

function ofEvent(facts: SystemFacts, { kind, day, note }: EventFact, today: number): After {
  const { words, why, step, series } = afterEvents[kind] ?? {
    ...{ words: '', why: '', step: '', series: afterPumps },
  };
  const when = whenWords(momentOfDay(day), facts.timeZone, momentOfDay(today));
  return {
    day,
    series,
    title: `${facts.name}: ${words}`,
    numbers: note === '' ? when : `${when}, “${note}”`,
    number: figure('Hours since', (today - day) * 24, 0, 'h'),
    source: `hours after it: ${hoursWords(series.hours)}; common practice`,
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
    series: afterPumps,
    title: `${tankId === null ? facts.name : `${facts.name}, ${tankName}`}: pumps were off`,
    numbers: `on again ${until}`,
    number: figure('Pumps were off for', (onDay - day) * 24, 1, 'h'),
    source: `hours after the pumps run again: ${hoursWords(afterPumps.hours)}; common practice`,
    why: 'A filter without flow can take days to work as before. Ammonia and nitrite show it before the animals do.',
    steps: [],
    question: 'Were they off that long, or was only the note late? If so, put this off with that reason.',
    evidence: [{ kind: 'switched off', id, at, text: what, note: `${why}; off until ${until}` }],
  };
}

/** What was due by now and has no reading from its hour on, until the next is due. */
function missingTests(facts: SystemFacts, { day: onDay, series }: After, today: number): string[] {
  const { codes, hours } = series;
  if (today > onDay + ((hours.at(-1) ?? 0) + over) / 24) return [];
  const at = hours.findLastIndex((after) => today >= onDay + after / 24);
  const [hour, before] = [hours[at] ?? 0, hours[at - 1] ?? 0];
  const from = onDay + (hour - Math.min(earliest, earlyPart * (hour - before))) / 24;
  return codes.filter((code) => {
    const readings = facts.readings.get(code) ?? [];
    if (!facts.quantities.has(code) || (ifEverRead.has(code) && readings.length === 0)) return false;
    return !readings.some(({ day }) => day >= from);
  });
}

/** "0, 12, 24 and 48". */
const hoursWords = (hours: readonly number[]): string => andWords(hours.map(String));

/** How many tests a title names. */
const named = 2;

function finding(
  facts: SystemFacts,
  { title, numbers, number, source: limit, why, steps, question, evidence, series }: After,
  missing: readonly string[],
): Finding {
  const names = testsWords(missing.slice(0, named));
  const all = testsWords(series.codes.filter((code) => !ifEverRead.has(code) || facts.readings.has(code)));
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
    figures: [wantedFigure(missing)],
    why,
    ...advised(
      ...steps,
      source('Feed little until both stay at zero.', notUp('food')),
      measure(`Test ${all} now, then after ${hoursWords(series.hours.slice(1))} hours.`),
    ),
    ...(question === undefined ? {} : { question }),
    evidence,
  };
}
