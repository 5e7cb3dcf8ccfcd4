import { numberWords } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { LotFact, RackFact, SystemFacts } from '../../facts/types.ts';
import type { EndedAlert } from '../../rule-definition/rule.ts';
import { conditionInSentence } from '../shared/conditions.ts';
import { dateOfDay, numberOf } from '../shared/words.ts';

type Ending = (facts: SystemFacts, alert: EndedAlert, now: Date) => string;

/** The lots an alert told of that still stand in the system. */
const lotsOf = (facts: SystemFacts, { subject, finding }: EndedAlert): LotFact[] =>
  facts.lots.filter(({ id }) => id === subject.id || finding.lots.includes(id));

/** What was done to lots since an alert opened: moved, or away; empty where nothing was. */
function movedWords(facts: SystemFacts, alert: EndedAlert): string {
  const lots = lotsOf(facts, alert);
  const moved = lots.filter(({ placedDay }) => placedDay > dayOf(alert.openedAt));
  const told = new Set([...alert.finding.lots, ...(alert.subject.type === 'lot' ? [alert.subject.id] : [])]);
  const away = told.size - lots.length;
  return [
    ...moved
      .slice(0, 3)
      .map(({ code, place, placedDay }) => `${code} moved to ${place} on ${dateOfDay(placedDay, facts)}`),
    ...(moved.length > 3 ? [`${moved.length - 3} more moved`] : []),
    ...(away > 0 ? [`${away === 1 ? 'one lot is' : `${away} lots are`} no longer here`] : []),
  ].join('; ');
}

/** The lamps over what an alert is about, as they were set since it opened; empty where they were not. */
function lampWords(facts: SystemFacts, alert: EndedAlert): string {
  const lots = lotsOf(facts, alert);
  const rack = facts.racks.find(({ id }) => id === alert.subject.id);
  const ids = new Set([alert.subject.id, rack?.lampId, ...lots.map(({ lampId }) => lampId)]);
  const set = facts.lamps.flatMap(({ id, name, settings }) => {
    const last = settings.at(-1);
    if (!ids.has(id) || last === undefined || Date.parse(last.at) <= alert.openedAt.getTime()) return [];
    return [`lamps “${name}” set to ${numberWords(last.percent)} % on ${dateOfDay(last.day, facts)}`];
  });
  return set.join('; ');
}

function surveyWords(facts: SystemFacts, racks: readonly RackFact[], since: number): string {
  const fresh = racks.flatMap(({ name, surveys }) => {
    const last = surveys.at(-1);
    return last === undefined || last.day <= since
      ? []
      : [`${name} surveyed on ${dateOfDay(last.day, facts)}`];
  });
  return fresh.slice(0, 3).join('; ');
}

/** The light that stands over the lots now, and whether it was measured. */
function lightWords(facts: SystemFacts, alert: EndedAlert): string {
  const lit = lotsUnder(facts, alert).flatMap(({ light, care }) => {
    const now = light.at(-1);
    return now === undefined
      ? []
      : [{ ...now, ceiling: care.ceiling?.par ?? null, low: care.range?.low ?? null }];
  });
  if (lit.length === 0) return '';
  const pars = lit.map(({ par }) => par);
  const [least, most] = [numberOf(Math.min(...pars)), numberOf(Math.max(...pars))];
  const ceilings = lit.flatMap(({ ceiling }) => ceiling ?? []);
  const against = ceilings.length === 0 ? '' : `, lowest ceiling ${numberOf(Math.min(...ceilings))}`;
  const basis = lit.some(({ estimated }) => estimated) ? 'worked out, not measured' : 'as surveyed';
  return `${least === most ? least : `${least} to ${most}`} µmol/(m² s) now (${basis}${against})`;
}

const lotsUnder = (facts: SystemFacts, alert: EndedAlert): LotFact[] => {
  const told = lotsOf(facts, alert);
  return told.length > 0
    ? told
    : facts.lots.filter(({ lampId, rackId }) => [lampId, rackId].includes(alert.subject.id));
};

const joined = (parts: readonly string[]) => parts.filter((part) => part !== '').join('; ');

/** Light over lots: lots moved, lamps set, a survey, or the lots got used to it. */
export const lightEnded: Ending = (facts, alert) => {
  const lots = lotsUnder(facts, alert);
  const racks = facts.racks.filter(
    ({ id }) => id === alert.subject.id || lots.some(({ rackId }) => rackId === id),
  );
  const acts = joined([
    movedWords(facts, alert),
    lampWords(facts, alert),
    surveyWords(facts, racks, dayOf(alert.openedAt)),
  ]);
  const basis = lightWords(facts, alert);
  if (acts !== '') return joined([acts, basis]);
  return joined([
    'nothing was moved, set or measured since; by what is known of its light it had time to get used to it, or its figures were changed',
    basis,
  ]);
};

/** A survey asked for: made since, the lamps set back, or nothing stands there any more. */
export const surveyEnded: Ending = (facts, alert) => {
  const occupied = new Set(facts.lots.map(({ rackId }) => rackId));
  const since = dayOf(alert.openedAt);
  const { subject } = alert;
  if (subject.type === 'system') {
    const made = surveyWords(facts, facts.racks, since);
    return made === ''
      ? 'racks that were never measured are listed with what would make the watch see more, not as an alert'
      : made;
  }
  const rack = facts.racks.find(({ id }) => id === subject.id);
  const last = rack?.surveys.at(-1);
  if (rack === undefined || !occupied.has(rack.id)) return 'no lot is on the rack any more';
  if (last === undefined) return 'its surveys were voided: it counts as never measured';
  if (last.day > since) return `the rack was surveyed on ${dateOfDay(last.day, facts)}`;
  const lamps = lampWords(facts, alert);
  const at = last.percent === null ? '' : `, made at ${numberWords(last.percent)} %`;
  if (lamps !== '')
    return `${lamps}, near the setting of its last survey of ${dateOfDay(last.day, facts)}${at}; it was not surveyed again`;
  return `it was not surveyed again; its survey of ${dateOfDay(last.day, facts)} is within the limits as they are set now`;
};

/** A place: the lot moved, looked at, or its flow and base noted otherwise. */
export const placeEnded: Ending = (facts, alert) => {
  const moved = movedWords(facts, alert);
  if (moved !== '') return moved;
  const looks = lookWords(facts, alert);
  if (looks !== '') return looks;
  const [lot] = lotsOf(facts, alert);
  const flow = lot?.flow == null ? 'not known' : `${lot.flow}${lot.jet ? ' with a jet' : ''}`;
  return lot === undefined
    ? 'its neighbours, flow or base are noted otherwise now'
    : `nothing was moved; its place is noted with flow ${flow} now, or its care figures or neighbours were changed`;
};

/** The newest look at each lot since the alert opened. */
function lookWords(facts: SystemFacts, alert: EndedAlert): string {
  return lotsOf(facts, alert)
    .flatMap(({ code, conditions: [latest] }) =>
      latest !== undefined && Date.parse(latest.at) > alert.openedAt.getTime() - 1
        ? [`${code} was looked at on ${dateOfDay(latest.day, facts)} and is ${conditionInSentence(latest)}`]
        : [],
    )
    .slice(0, 3)
    .join('; ');
}

/** How a lot looks: by its newest look; where the check it came from was voided, that. */
export const lookEnded: Ending = (facts, alert) => {
  const own = alert.finding.evidence.filter(({ kind }) => kind === 'condition').map(({ id }) => id);
  const noted = lotsOf(facts, alert).flatMap(({ conditions }) => conditions);
  const [latest] = noted;
  if (
    own.length > 0 &&
    !noted.some(({ id }) => own.includes(id)) &&
    (latest === undefined || Date.parse(latest.at) <= alert.openedAt.getTime())
  )
    return 'the check it came from was voided';
  const state = latest === undefined ? '' : conditionInSentence(latest);
  if (latest?.state === 'well')
    return `it was looked at again on ${dateOfDay(latest.day, facts)} and is well`;
  return latest === undefined
    ? 'no look at it counts any more'
    : `its last look is of ${dateOfDay(latest.day, facts)}: ${state}`;
};
