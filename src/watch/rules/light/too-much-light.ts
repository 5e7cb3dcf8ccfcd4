import { advised, correct, done, down, measure } from '../../../alerts/advice.ts';
import {
  type Evidence,
  type Finding,
  mostUrgent,
  plainFinding,
  raised,
  type Severity,
} from '../../../alerts/finding.ts';
import { urgencyBySource } from '../../../alerts/unchecked.rules.ts';
import { dayCount, numberWords } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { lightEnded } from '../endings/places.ts';
import { conditionInSentence, signSince } from '../shared/conditions.ts';
import { groupedByRack, type LotFinding, type RackWords } from '../shared/group-by-rack.ts';
import { lotsWords, whereWords } from '../shared/place-words.ts';
import { jumpBehind, jumpKeys, jumpWhy } from '../shared/water-jump.ts';
import { dateOfDay, figure, numberOf } from '../shared/words.ts';
import { lampGroups } from './lamp-changes.ts';
import { type LightStress, lightStress, type StressedLot } from './light-dose.ts';
import { lightSince } from './light-since.ts';

const parameters = {
  opens: {
    label: 'Alert, beyond the surveys’ error, from so many times the safe light',
    unit: 'times',
    default: 1.01,
    low: 1,
    high: 2,
    source:
      'own choice: the kind’s own ceiling and step ratio, past rounding; a step with 9 chances in 10, since both sides are surveyed',
  },
  stays: {
    label: 'Close below so many times the safe light',
    unit: 'times',
    default: 0.97,
    low: 0.5,
    high: 1,
    source: 'own choice: clearly below what opens it',
  },
  slight: {
    label: 'Only watch up to so many times the safe light, unless the lot shows it',
    unit: 'times',
    default: 1.1,
    low: 1,
    high: 2,
    source: 'own choice: a tenth is within what a survey and a step of the lamps leave open',
  },
};

type LightSettings = Values<typeof parameters>;

const shownSigns = ['paling', 'bleached'] as const;

/** Light above the kind's ceiling, or more at once than the lot is used to. */
export const tooMuchLight = defineRule({
  name: 'too-much-light',
  heading: 'Too much light',
  watches:
    'Compares the light each lot gets with its kind’s ceiling, and with what it is used to times the kind’s step, beyond what the surveys leave open. Lots under lamps that were turned up are one alert. Paling seen on a round makes it more urgent.',
  byKind: true,
  parameters,
  quietHours: 36,
  ended: lightEnded,
  evaluate(facts, settings, now) {
    const today = dayOf(now);
    const lit = facts.lots.map((lot) => ({ lot, stress: lightStress(lot, today) }));
    const stressed = lit
      .map(({ lot, stress }) => stressedLot(lot, stress, settings(lot.kindIds)))
      .filter((one): one is StressedLot => one !== null);
    const { findings, causeOf } = lampGroups(facts, { lit, stressed, opens: settings().opens }, now);
    const told = stressed.map((one) => ({ lot: one.lot, finding: lotFinding(facts, one, causeOf(one)) }));
    // What lamps explain is told with the lamps; of the rest, many on one rack are one matter of the rack.
    const explained = told.filter(({ finding }) => finding.causes.length > 0);
    const others = told.filter(({ finding }) => finding.causes.length === 0);
    return [
      ...findings,
      ...explained.map(({ finding }) => finding),
      ...groupedByRack(facts, others, (rack, lots) => rackWords(rack.name, lots)),
    ];
  },
});

function rackWords(name: string, lots: readonly LotFinding[]): ReturnType<RackWords> {
  const brightest = Math.max(...lots.map(({ finding }) => finding.number.value));
  return {
    title: `${name}: ${lotsWords(lots.length)} get too much light`,
    numbers: `${numberOf(brightest)} µmol/(m² s) at the brightest`,
    number: figure('Lots too bright', lots.length, 0),
    limit: {
      ...figure('Lots of one rack that are one alert, from', 3, 0),
      source: 'own choice: three of one rack have one cause',
    },
    why: 'Several lots of one rack get more light than they take: the lamps, the depth of the rack, or a survey that is wrong.',
    ...advised(
      measure('Measure the light at a slot or two.'),
      correct(
        'If it is so, turn the lamps down, or move the lots listed. Raise the light again by small steps, a week each.',
        down('light'),
        done('place'),
      ),
    ),
  };
}

function stressedLot(lot: LotFact, stress: LightStress | null, values: LightSettings): StressedLot | null {
  if (stress === null || stress.excess < values.stays) return null;
  const shows = signSince(lot, shownSigns, stress.sinceDay);
  const byLight: Severity = stress.excess <= values.slight ? 'watch' : 'today';
  const calm = urgencyBySource(byLight, stress.source);
  const severity = shows === null ? calm : urgencyOf(shows, calm);
  // A lot that pales since says more than the error of a survey.
  const surely = shows === null ? stress.clear : stress.excess;
  const status = surely >= values.opens ? 'fires' : 'stays';
  return { lot, stress, shows, severity, status, score: stress.excess * (1 + 0.25 * weight(shows)) };
}

/** A little paling is for today; more of it asks for one step more than the light alone, bleaching for now. */
function urgencyOf({ state, grade }: LotFact['conditions'][number], calm: Severity): Severity {
  if (state === 'bleached') return 'now';
  return (grade ?? 1) >= 2 ? raised(calm) : mostUrgent([calm, 'today']);
}

function weight(shows: StressedLot['shows']): number {
  if (shows === null) return 0;
  return (shows.state === 'bleached' ? 3 : 1) * (shows.grade ?? 1);
}

function lotFinding(facts: SystemFacts, stressed: StressedLot, cause: Finding['causes']): Finding {
  const { lot, stress } = stressed;
  const par = (label: string, value: number) => figure(label, value, 0, 'µmol/(m² s)');
  // Said wherever the figure stands: on the page, in the digest and in its letter.
  const gets = `${stress.estimated ? 'about ' : ''}${numberOf(stress.par)}${stress.estimated ? ' (estimated)' : ''}`;
  const since = lightSince(facts, lot, stress.sinceDay);
  const jump = stressed.shows === null ? null : jumpBehind(facts, lot);
  return {
    ...plainFinding,
    rule: 'too-much-light',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    status: stressed.status,
    severity: stressed.severity,
    score: stressed.score,
    // Where the water explains the paling, the light is told by itself.
    title: titleOf(jump === null ? stressed : { ...stressed, shows: null }),
    numbers: stress.knownBefore
      ? `used to ${numberOf(stress.accustomedPar)}, gets ${gets} ${since}`
      : `gets ${gets} ${since}; ${beforeWords(stress)}`,
    number: par(stress.estimated ? 'Light at its place, estimated' : 'Light at its place', stress.par),
    limit: {
      ...par(stress.by === 'ceiling' ? 'Ceiling of its kind' : 'Safe for it now', stress.bearsPar),
      source: stress.source,
    },
    figures: figuresOf(stress),
    why: [whyOf(stressed, facts), ...(jump === null ? [] : [jumpWhy(facts, jump)])].join(' '),
    ...advised(
      correct(
        lot.acclimation !== null
          ? acclimationStep(lot.acclimation)
          : `Move it to a place of ${numberOf(stress.bearsPar)} or less${stress.estimated ? ', and measure the light there' : ''}, or turn the lamps down. ${afterwards(stress)}`,
        down('light'),
        ...(lot.acclimation === null ? [done('place')] : []),
      ),
    ),
    evidence: evidenceOf(stressed),
    causes: [...jumpKeys(facts, jump), ...cause],
  };
}

/** What is known of the light before, where that is too little to say what the lot is used to. */
const beforeWords = ({ parBefore }: LightStress) =>
  parBefore === null
    ? 'its light before that is not known'
    : `before that ${numberOf(parBefore)}, for too short a time to be used to it`;

const afterwards = ({ knownBefore }: LightStress) =>
  knownBefore
    ? 'Raise it again by small steps, a week each.'
    : 'Look at it each day for a week, and shade it more where it pales.';

const acclimationStep = ({ name }: NonNullable<LotFact['acclimation']>) =>
  `Take it back to the light of the last step of “${name}”: its acclimation does not go this far yet. Go on by the plan.`;

function figuresOf(stress: LightStress): Finding['figures'] {
  const { accustomedPar, ratio, error, estimated, adaptsIn, knownBefore } = stress;
  const basis = estimated ? ', scaled from a survey at another lamp setting' : ', surveyed';
  const sure = { label: 'How sure', text: `± ${numberOf(error)}${basis}` };
  if (!knownBefore)
    return [
      {
        label: 'Used to',
        text: `not known: its light before was ${stress.parBefore === null ? 'not measured' : 'known for too short a time'}`,
      },
      sure,
    ];
  return [
    { label: 'Used to', text: `${numberOf(accustomedPar)} µmol/(m² s)` },
    { label: 'A day, over what it is used to', text: `${numberWords(ratio, 2)} times` },
    sure,
    { label: 'Would be used to it', text: `in ${dayCount(Math.ceil(adaptsIn))}, if it survives` },
  ];
}

function titleOf({ lot, stress, shows }: StressedLot): string {
  const where = whereWords(lot);
  if (shows !== null)
    return `${where}: ${conditionInSentence({ ...shows, grade: null })} under ${stress.by === 'ceiling' ? 'too much' : 'suddenly more'} light`;
  return stress.by === 'ceiling'
    ? `${where}: more light than its kind takes`
    : stress.knownBefore
      ? `${where}: brighter than it is used to`
      : `${where}: much brighter than before`;
}

function whyOf({ lot, shows, stress }: StressedLot, facts: SystemFacts): string {
  const kind = `${lot.kindName}, ${lot.pieces} ${lot.pieces === 1 ? 'piece' : 'pieces'}`;
  const seen =
    shows === null
      ? 'Light damage shows only later: first a lighter shade, then white.'
      : `Seen ${dateOfDay(shows.day, facts)}: ${conditionInSentence(shows)}.`;
  const adapts = stress.by === 'step' ? ' It can get used to it, but not in one step.' : '';
  return `${kind}. ${seen}${adapts}`;
}

function evidenceOf({ lot, stress, shows }: StressedLot): Evidence[] {
  const place: Evidence = {
    kind: 'placement',
    id: lot.placementId,
    at: lot.placedAt,
    text: `On ${lot.place}`,
    note: `${numberOf(stress.par)} µmol/(m² s) now`,
  };
  if (shows === null) return [place];
  return [
    { kind: 'condition', id: shows.id, at: shows.at, text: conditionInSentence(shows), note: shows.note },
    place,
  ];
}
