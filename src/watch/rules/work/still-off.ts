import { type Act, type Advice, advised, air, done, measure, source, up } from '../../../alerts/advice.ts';
import { type Evidence, type Finding, plainFinding } from '../../../alerts/finding.ts';
import { backOn } from '../../../farm/switched-off/back-on.rules.ts';
import { spanWords } from '../../../farm/switched-off/span.words.ts';
import { things } from '../../../farm/switched-off/things.rules.ts';
import type { OffThing } from '../../../generated/prisma/enums.ts';
import { lowered } from '../../../platform/words/capitals.ts';
import { whenWords } from '../../../platform/words/times.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { say } from '../../../water/quantities/quantities.ts';
import { momentOfDay, type SwitchedOffFact, type SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { offEnded } from '../endings/things.ts';
import { lengthFigure, quantityNamed } from '../shared/words.ts';
import { flowAftercare } from './flow-aftercare.ts';

const parameters = {
  longHours: {
    label: 'All flow off for this long: test ammonia and nitrite',
    unit: 'h',
    default: 3,
    low: 1,
    high: 24,
    source:
      'own choice; reported cases of 12 and 17 h off showed nitrite afterwards, tested at once, after a day and after two',
  },
} as const;

const minute = 1 / 1440;
/** A second before its minute counts as that minute. */
const second = minute / 60;
/** Told as worse when an hour, four and twelve hours have passed; own choice. */
const grave = [60, 240, 720];

/** What is switched off for now and is due back, or late. */
export const stillOff = defineRule({
  name: 'still-off',
  heading: 'Switched off and not seen running again',
  watches:
    'What is noted as off, open or out of use has a time. When it is due back somebody is to look today; when it is late, now. After hours without flow, a power cut or the loss of many animals ammonia and nitrite are to be tested at once, after a day and after two. The times are set on the farm’s page of what is switched off.',
  byKind: false,
  parameters,
  quietHours: 0,
  untried: 'This rule counts minutes; tried once a day it shows only what was still off at that hour.',
  ended: offEnded,
  evaluate(facts, settings, now) {
    const today = dayOf(now);
    const due = facts.switchedOff.filter(({ onDay, dueDay }) => onDay === null && today >= dueDay - second);
    const same = Map.groupBy(due, (off) => `${off.tankId ?? facts.systemId} ${facetOf(off)}`);
    return [
      ...[...same.values()].map((offs) => finding(facts, offs, now)),
      ...flowAftercare(facts, settings(), today),
    ];
  },
});

const facetOf = ({ equipmentId, thing }: SwitchedOffFact) => equipmentId ?? thing;

/** What is off, by its reason: after feeding, or for whatever was said. */
const titleOf = ({ what, why, feedingId, thing }: SwitchedOffFact) =>
  feedingId === null
    ? `${what} still ${things[thing].state} (${why})`
    : `${what.toLowerCase()} still off after feeding`;

function finding(facts: SystemFacts, offs: readonly SwitchedOffFact[], now: Date): Finding {
  const today = dayOf(now);
  const [first] = offs.toSorted((a, b) => a.dueDay - b.dueDay) as [SwitchedOffFact];
  const late = today >= first.lateDay - second;
  const over = (today - first.dueDay) / minute;
  const place = first.tankId === null ? facts.name : `${facts.name}, ${first.tankName}`;
  const [offAt, dueAt] = [momentOfDay(first.day), momentOfDay(first.dueDay)];
  return {
    ...plainFinding,
    rule: 'still-off',
    subject: { type: first.tankId === null ? 'system' : 'tank', id: first.tankId ?? facts.systemId },
    facet: facetOf(first),
    systemId: facts.systemId,
    href: `/farm/switched-off/${first.id}`,
    status: 'fires',
    severity: late ? 'now' : 'today',
    score: 2 ** grave.filter((minutes) => over >= minutes).length,
    title: `${place}: ${titleOf(first)}`,
    numbers: `since ${whenWords(offAt, facts.timeZone, now)}, due back ${whenWords(dueAt, facts.timeZone, now)}`,
    number: lengthFigure('Off for', (today - first.day) / minute),
    limit: {
      ...lengthFigure('Due back after', (first.dueDay - first.day) / minute),
      source: 'as it was noted, or the usual time of its kind (own choice, set by the farm)',
    },
    figures: first.keeper === '' ? [] : [{ label: 'Looks after it', text: first.keeper }],
    why: whyOf(first),
    ...advised(...stepsOf(first, over)),
    question: backOnQuestion(facts, first, now),
    evidence: offs.map((off) => evidenceOf(off)),
  };
}

/** "Is it back on?", where the temperature goes its way again; '' where it does not tell. */
function backOnQuestion(facts: SystemFacts, { thing, day, what }: SwitchedOffFact, now: Date): string {
  const read = facts.readings.get('temperature') ?? [];
  const since = read.filter((one) => one.day >= day && one.trust !== 'unconfirmed');
  const found = backOn(
    thing,
    since.map(({ day: at, value }) => ({ at, value })),
  );
  if (found === null) return '';
  const [turn, last] = [found.turn, found.last].map(
    ({ at, value }) =>
      `${say(quantityNamed(facts, 'temperature'), value)} ${whenWords(momentOfDay(at), facts.timeZone, now)}`,
  );
  return `Is it back on? The temperature turned: ${turn}, ${last}. Look at ${what}, and say so.`;
}

const moves: readonly string[] = ['all_flow', 'return_pump', 'wave_pump', 'air'];

function whyOf({ thing }: SwitchedOffFact): string {
  if (moves.includes(thing))
    return 'Without circulation oxygen falls, heat is not spread, and within hours a filter and a sea bed without flow begin to die off.';
  return 'What is off for now and forgotten does its harm when nobody looks. Nobody has said that it was seen running again.';
}

/** What putting it back turns up. */
const levers: Partial<Record<OffThing, Act>> = {
  all_flow: done('pumps'),
  return_pump: done('pumps'),
  wave_pump: done('pumps'),
  air: done('air'),
  heating: up('heating'),
  light: up('light'),
  doser: up('dose'),
  top_up: up('top-up'),
};

function stepsOf(off: SwitchedOffFact, over: number): Advice[] {
  const { thing, onReturn, what } = off;
  const { caution } = things[thing];
  if (off.removed === true) return [inItsPlace(off)];
  if (thing === 'all_flow' || thing === 'return_pump')
    return [
      air(
        'Go there and switch the pumps on. See that water moves in every tank, then say so here.',
        done('pumps'),
      ),
      ...(over > 90
        ? [measure('Watch the animals for gaping and slime, and test ammonia and nitrite at once.')]
        : []),
    ];
  const lever = levers[thing];
  const seen = lowered(onReturn);
  const text = [
    goThere(what, things[thing].state),
    caution,
    `Say here that you saw it: ${seen}`,
    `If it must stay ${things[thing].state}, say until when and why.`,
  ]
    .filter((part) => part !== '')
    .join(' ');
  const put = moves.includes(thing) ? air : source;
  return [put(text, ...(lever === undefined ? [] : [lever]))];
}

/** What was taken off the books while it was off cannot be put back: another does its work, or the water does without. */
function inItsPlace({ thing, what }: SwitchedOffFact): Advice {
  const put = moves.includes(thing) ? air : source;
  const lever = levers[thing];
  return put(
    `${what} was taken off the books while it was off. Put another in its place, or see that the water does without. Then say here that it is seen to.`,
    ...(lever === undefined ? [] : [lever]),
  );
}

/** The act that ends a state. */
function goThere(what: string, state: string): string {
  if (state === 'open') return `Go there and close ${what}.`;
  return state === 'running' ? `Go there and stop ${what}.` : `Go there and put ${what} back.`;
}

export const evidenceOf = ({ id, at, what, why, day, dueDay }: SwitchedOffFact): Evidence => ({
  kind: 'switched off',
  id,
  at,
  text: what,
  note: `${why}; for ${spanWords((dueDay - day) / minute)}`,
});
