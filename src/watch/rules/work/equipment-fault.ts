import { advised, people, source } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import { whenWords } from '../../../platform/words/times.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { type FaultFact, momentOfDay, type SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { faultEnded } from '../endings/things.ts';
import { figure } from '../shared/words.ts';

/** Begins the facet of a check that nobody answered. */
export const uncheckedFacet = 'check ';

/** Equipment that may wait until today's work; everything else, and what nobody named, concerns somebody now. */
const canWait: readonly string[] = ['lamp', 'skimmer', 'media_filter', 'purifier', 'other'];

/** Something wrong with equipment, as somebody noted it. */
export const equipmentFault = defineRule({
  name: 'equipment-fault',
  heading: 'Equipment with a fault',
  watches:
    'What somebody noted as wrong, on a round or anywhere else, stays open until somebody says what was done about it, and a check of equipment that nobody answered until somebody has looked. Pumps, heaters, coolers, dosers and top-ups concern somebody now; a check that nobody answered is for today, since nobody saw anything wrong.',
  byKind: false,
  parameters: {},
  quietHours: 0,
  untried: 'It repeats what people noted; there is no limit to try.',
  ended: faultEnded,
  evaluate(facts, _settings, now) {
    const open = facts.faults.filter(({ mendedDay }) => mendedDay === null);
    const same = Map.groupBy(open, ({ equipmentId, id }) => equipmentId ?? id);
    return [...same].map(([of, faults]) => finding(facts, of, faults, now));
  },
});

function finding(facts: SystemFacts, of: string, faults: readonly FaultFact[], now: Date): Finding {
  const last = faults.at(-1) as FaultFact;
  const { seen, equipment, kind, by, day, leftOut } = last;
  const hours = (dayOf(now) - (faults[0]?.day ?? day)) * 24;
  return {
    ...plainFinding,
    rule: 'equipment-fault',
    subject: { type: 'system', id: facts.systemId },
    facet: leftOut ? `${uncheckedFacet}${of}` : of,
    systemId: facts.systemId,
    href: `/farm/systems/${facts.systemId}/faults`,
    status: 'fires',
    severity: leftOut || (kind !== null && canWait.includes(kind)) ? 'today' : 'now',
    score: faults.length,
    title: `${facts.name}${equipment && `, ${equipment}`}: ${seen}`,
    numbers: `${leftOut ? 'told' : 'noted'} ${whenWords(momentOfDay(day), facts.timeZone, now)}${leftOut ? '' : by && ` by ${by}`}`,
    number: figure('Open for', hours, 1, 'h'),
    large: { ...openFor(hours), more: leftOut ? 'since it was told' : 'since it was noted' },
    limit: {
      ...figure('Told at once', 0, 0, 'h'),
      source: 'own choice: a fault that somebody saw is told at once',
    },
    figures: [],
    why: `${leftOut ? 'Nobody answered for the check: whether everything runs is not known.' : `${by || 'Somebody'} saw it and noted it.`} What moves, heats or doses the water does its harm within hours when it fails.`,
    ...advised(...(leftOut ? toCheck : toMend)),
    evidence: faults.map((fault) => ({
      kind: 'fault',
      id: fault.id,
      at: fault.at,
      text: fault.seen,
      note: fault.by === '' || fault.leftOut ? '' : `noted by ${fault.by}`,
    })),
  };
}

const caution = 'Go and look. Unplug it before hands or tools go in.';
const toMend = [
  people(caution),
  source('Put it right or put another in its place. See it running, then say here what was done.'),
];
const toCheck = [
  people(caution),
  source(
    'Look at every pump, heater, cooler, doser and top-up. Say here that all is right, or note what is not.',
  ),
];

/** "20 min", "3 h", "2 days". */
function openFor(hours: number): { text: string; unit: string } {
  const whole = (value: number) => numberWords(Math.max(1, Math.round(value)));
  if (hours < 1) return { text: whole(hours * minutesAnHour), unit: 'min' };
  if (hours < 2 * hoursADay) return { text: whole(hours), unit: 'h' };
  return { text: whole(hours / hoursADay), unit: 'days' };
}

const [minutesAnHour, hoursADay] = [60, 24];
