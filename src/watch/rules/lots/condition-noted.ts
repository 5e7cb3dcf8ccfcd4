import {
  type Advice,
  advised,
  again,
  asking,
  correct,
  done,
  down,
  isolate,
  measure,
  noted,
  source,
  up,
} from '../../../alerts/advice.ts';
import { type Finding, type FindingKey, plainFinding, type Severity } from '../../../alerts/finding.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import { dayCount } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { COMPARISON_WORDS } from '../../../stock/base/condition-states.rules.ts';
import { pestOf } from '../../../stock/pests/pests.rules.ts';
import type { ConditionFact, LotFact, SystemFacts } from '../../facts/types.ts';
import { defineRule, type SettingsFor } from '../../rule-definition/rule.ts';
import { lookEnded } from '../endings/places.ts';
import { lampBrightenedKey, lastTurnedUp } from '../light/lamp-changes.ts';
import { nitrateRaised } from '../nitrate/raised.ts';
import {
  conditionInSentence,
  lookEvidence,
  type Onset,
  onsetOf,
  standingNote,
  standsStill,
} from '../shared/conditions.ts';
import { rackKey } from '../shared/group-by-rack.ts';
import { whereWords } from '../shared/place-words.ts';
import { jumpBehind, jumpKeys, jumpSteps, jumpWhy, type ShownJump } from '../shared/water-jump.ts';
import { amount, dateOfDay, figure, quantityNamed } from '../shared/words.ts';
import { sharedBy } from './affected-share.ts';
import { cutBatchesOf, cutBehind, cutSteps } from './cut-batch.ts';
import { fastLoss, fastLossSteps } from './fast-loss.ts';
import { lighteningAsked } from './lightening.ts';
import { palingSteps } from './paling-steps.ts';
import { photographsOn } from './photographs-on.ts';
import { recentChanges } from './recent-changes.ts';
import { losesWithOthers, tissueLossKey } from './tissue-loss.ts';
import { urgencyOf } from './urgency.ts';
import { type WaterKnown, waterKnown } from './water-known.ts';

const parameters = {
  looked: {
    label: 'Check an unwell lot again after',
    unit: 'd',
    default: 3,
    low: 1,
    high: 30,
    source:
      'own choice: tissue can go within days; twice a week at least. A week where the edge stands still',
  },
};

interface State {
  why: string;
  steps: readonly Advice[];
}

const states: Partial<Record<ConditionState, State>> = {
  paling: {
    why: 'Paling is the first answer to too much light, heat or hunger, and can still be turned.',
    steps: [],
  },
  bleached: {
    why: 'A bleached coral lives on its reserves; it can recover in a dimmer place, slowly.',
    steps: [],
  },
  receding: {
    why: 'Flesh that recedes is lost; sudden recession has to do with nitrate, a jet, silt or a neighbour more often than with the lot itself.',
    steps: [],
  },
  polyps_shut: {
    why: 'Polyps shut for days say that something irritates it.',
    steps: [measure('Look for a jet, a neighbour or grazing. Look again at another hour before moving it.')],
  },
  silt: {
    why: 'Grains lying in the valleys kill the flesh beneath within weeks.',
    steps: [source('Blow it clean.'), correct('Lift it or give it more flow.', up('flow'))],
  },
  algae: {
    why: 'Algae take hold where flesh is gone, and creep on from there.',
    steps: [measure('Take it off by hand at the edge. Look at nitrate and phosphate.')],
  },
  loose: {
    why: 'A loose piece falls onto a neighbour or onto its face.',
    steps: [source('Fix it to its mount again.')],
  },
  jet: {
    why: 'A steady stream at the flesh wears it off the skeleton, even from a weak pump.',
    steps: [source('Turn the pump or the piece so that nothing strikes the flesh directly.', down('flow'))],
  },
  other: {
    why: 'Somebody saw something.',
    steps: [measure('Look at it, and read the note.')],
  },
};

/** An edge that stands still is compared with the week's look; own choice. */
const stillDays = 7;

const scores: Record<Severity, number> = { watch: 1, today: 2, now: 4 };
/** What light brings about. */
const byLight: readonly ConditionState[] = ['paling', 'bleached'];
const shownLooks = 6;

/** A lot noted unwell at its last look. */
export const conditionNoted = defineRule({
  name: 'condition-noted',
  heading: 'Not well at the last check',
  watches:
    'Lists every lot that was not well at its last check, until somebody records it as well. Where too much light explains it, it is part of that alert. A pest is told of its whole water instead.',
  byKind: false,
  parameters,
  quietHours: 0,
  ended: lookEnded,
  evaluate(facts, settings, now) {
    let known: string | undefined;
    const nitrate = () => {
      known ??= raisedNitrate(facts, now);
      return known;
    };
    return facts.lots
      .map((lot) => finding(facts, lot, settings, now, nitrate))
      .filter((one): one is Finding => one !== null);
  },
});

/** What receding lots have to do with before all else: "" where nitrate is not clearly raised. */
function raisedNitrate(facts: SystemFacts, now: Date): string {
  const raised = nitrateRaised(facts, now);
  if (raised === null) return '';
  const { text, unit } = amount(quantityNamed(facts, 'nitrate'), '', raised.level.value);
  const edge = amount(quantityNamed(facts, 'nitrate'), '', raised.edge);
  return `Nitrate is raised here, ${text} ${unit} over ${edge.text}: sudden recession has to do with it more often than with anything else (practice of growers).`;
}

function finding(
  facts: SystemFacts,
  lot: LotFact,
  settings: SettingsFor<typeof parameters>,
  now: Date,
  nitrate: () => string,
): Finding | null {
  const { looked } = settings();
  const [latest] = lot.conditions;
  const state = latest === undefined ? undefined : states[latest.state];
  const onset = onsetOf(lot.conditions);
  if (latest === undefined || state === undefined || onset === null) return null;
  const grade = latest.grade ?? 1;
  const fast = fastLoss(lot.conditions);
  const severity = urgencyOf(lot);
  const days = Math.floor(dayOf(now) - latest.day);
  const due = standsStill(lot.conditions) ? Math.max(looked, stillDays) : looked;
  const overdue = days >= due;
  const raised = latest.state === 'receding' ? nitrate() : '';
  const water = latest.state === 'receding' && raised === '' ? waterKnown(facts, now) : untested;
  const against = latest.compared === null ? '' : `, ${COMPARISON_WORDS[latest.compared]}`;
  const note = standingNote(lot.conditions);
  const withOthers = losesWithOthers(facts, lot, settings, now);
  const jump = jumpBehind(facts, lot);
  const cut = latest.state === 'receding' ? cutBehind(facts, lot, settings, now) : null;
  const seen = byLight.includes(latest.state)
    ? photographsOn(facts, lot, onset, lighteningAsked(settings), now)
    : null;
  return {
    ...plainFinding,
    rule: 'condition-noted',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    status: 'fires',
    severity,
    score: scores[severity] * (1 + 0.3 * grade) * (seen?.weight ?? 1),
    title: `${whereWords(lot)}: ${conditionInSentence(latest)}${fast === null ? '' : ', fast'}`,
    numbers: `seen ${dateOfDay(latest.day, facts)}${against}${overdue ? `, not checked for ${dayCount(days)}` : ''}`,
    number: figure('Days since the last check', days, 0, 'd'),
    limit: { ...figure('Check due after', due, 0, 'd'), source: parameters.looked.source },
    figures: [
      { label: 'Kind', text: lot.kindName },
      ...(seen === null ? [] : [{ label: 'Photographs', text: seen.text }]),
      ...(cut === null ? [] : [{ label: 'Cut on', text: dateOfDay(cut.day, facts) }]),
      ...(water.inOrder === '' ? [] : [{ label: 'Within its band', text: water.inOrder }]),
      ...recentChanges(facts, lot, onset),
    ],
    why: [
      note === '' ? '' : `Noted: “${note}”.`,
      fast ?? '',
      jump === null ? state.why : jumpWhy(facts, jump),
      raised,
    ]
      .filter((text) => text !== '')
      .join(' '),
    ...advised(
      ...(overdue ? [measure('Look at it again today.')] : []),
      ...(byPest.includes(latest.state) ? lensSteps(facts, lot) : []),
      ...stepsFor(facts, lot, latest, { fast: fast !== null, withOthers, water, cut, jump, now }),
    ),
    evidence: lot.conditions.slice(0, shownLooks).map(lookEvidence),
    causes: [
      ...(latest.state === 'receding' ? cutBatchesOf(facts, lot, settings) : []),
      ...(withOthers ? [tissueLossKey(facts.systemId)] : []),
      ...jumpKeys(facts, jump),
      ...(byLight.includes(latest.state) ? lightCauses(facts, lot, onset, dayOf(now)) : []),
      ...placeCauses(lot, latest.state, onset),
      ...sharedBy(facts, [lot.id]),
    ],
  };
}

/** What a pest that feeds on a coral brings about. */
const byPest: readonly ConditionState[] = ['paling', 'bleached', 'receding', 'polyps_shut'];

/** A lens first, where a pest that may live on it was seen in its water; of a tank with water of its own only that tank knows. */
function lensSteps({ pests }: SystemFacts, { kindName }: LotFact): Advice[] {
  const near = pests
    .filter(({ endedAt, tankId }) => endedAt === null && tankId === null)
    .map(({ pest }) => pestOf(pest))
    .filter(({ hosts }) => !isGenus.test(hosts) || kindName.startsWith(hosts));
  const [first] = near;
  if (first === undefined) return [];
  return [noted(measure('Look at it with a lens first.'), `A pest was seen in this water: ${first.name}.`)];
}

/** One genus alone, "Acropora"; anything else may live on any coral. */
const isGenus = /^[A-Z][a-z]+$/;

/** Of one that loses flesh together with unrelated ones: as the alert on their water says. */
const withOthersSteps: readonly Advice[] = [
  isolate(
    'Isolate it today, with the others of this water that lose flesh. Use water and tools of its own. See to healthy ones first.',
    done('apart'),
  ),
  again('Photograph the edge with a ruler now and after 12 and 24 hours.'),
];

/** Of one that goes on losing flesh, whatever it is: a rot goes from piece to piece, and clean water hides nothing (common practice). */
const apartStep = isolate(
  'Take it into water of its own today, with tools of its own. See to healthy ones first.',
  done('apart'),
);

/** It lost flesh at the look before already, and nobody says that it is better since. */
const goesOn = ({ conditions }: LotFact): boolean => {
  const [latest, before] = conditions;
  if (latest?.state !== 'receding' || before?.state !== 'receding') return false;
  return latest.compared !== 'better' && !standsStill(conditions);
};

/** What else is known of a lot that is not well. */
interface Known {
  fast: boolean;
  withOthers: boolean;
  water: WaterKnown;
  cut: ReturnType<typeof cutBehind>;
  jump: ShownJump | null;
  now: Date;
}

function stepsFor(
  facts: SystemFacts,
  lot: LotFact,
  { state }: ConditionFact,
  { fast, withOthers, water, cut, jump, now }: Known,
): readonly Advice[] {
  if (fast) return fastLossSteps;
  if (withOthers) return withOthersSteps;
  if (cut !== null) return cutSteps(cut.mates);
  if (jump !== null) return jumpSteps;
  if (state === 'paling' || state === 'bleached') return palingSteps(facts, lot, state, now);
  if (standsStill(lot.conditions)) return stillSteps;
  const steps = state === 'receding' ? recedingSteps(water) : (states[state]?.steps ?? []);
  return goesOn(lot) ? [...steps, apartStep] : steps;
}

/** What is looked at where tests of late say nothing. */
const untested: WaterKnown = { inOrder: '', left: ['nitrate', 'alkalinity'] };

const recedingSteps = ({ left }: WaterKnown): readonly Advice[] => [
  ...(left.length === 0 ? [] : [measure(`Look at ${left.join(' and ')} first.`)]),
  asking('place', measure('Look at flow and neighbours.')),
  again('Photograph the edge and compare tomorrow.'),
];

/** Of an edge that stands still: nothing is done to it, and should it go on that does not stay unseen. */
const stillSteps: readonly Advice[] = [
  noted(
    again('Photograph the edge and compare it at the next look.'),
    'Its edge went no further since. Flesh comes back over months (common practice).',
  ),
];

/** Rules on its place that take up such a state, and are then as urgent as it. */
const byPlace: Partial<Record<ConditionState, readonly string[]>> = {
  receding: ['jet-on-flesh', 'neighbours-in-reach'],
  bleached: ['neighbours-in-reach'],
  polyps_shut: ['neighbours-in-reach', 'flow-unsuited'],
  jet: ['jet-on-flesh'],
  silt: ['silt-risk'],
  loose: ['loose-in-flow'],
};

/** States that a place can bring about, but that can as well have come with the lot. */
const bySelf: readonly ConditionState[] = ['receding', 'bleached', 'polyps_shut'];

/** What its place did, told of the lot or, with others, of its rack. */
function placeCauses(lot: LotFact, state: ConditionState, { firstBad }: Onset): FindingKey[] {
  // A place it was set on after it was first seen so did not do it; what the place shows by itself stays with the place.
  if (bySelf.includes(state) && lot.placedDay > firstBad.day) return [];
  return (byPlace[state] ?? []).flatMap((rule) => [
    { rule, subject: { type: 'lot' as const, id: lot.id }, facet: '' },
    rackKey(rule, lot.rackId),
  ]);
}

/** Its own light, or the lamps above when they were turned up before it was seen. */
function lightCauses(facts: SystemFacts, lot: LotFact, { firstBad }: Onset, today: number): FindingKey[] {
  const own: FindingKey = {
    rule: 'too-much-light',
    subject: { type: 'lot', id: lot.id },
    facet: '',
  };
  const lamp = facts.lamps.find(({ id }) => id === lot.lampId);
  const turned = lamp === undefined ? null : lastTurnedUp(lamp, today);
  return turned !== null && turned.day < firstBad.day ? [own, lampBrightenedKey(turned.lamp.id)] : [own];
}
