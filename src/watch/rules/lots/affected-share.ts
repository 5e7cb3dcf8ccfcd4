import { type Advice, advised, again, isolate, measure, noted } from '../../../alerts/advice.ts';
import { type Finding, type FindingKey, mostUrgent, plainFinding } from '../../../alerts/finding.ts';
import { numberWords, plural } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { groupingWords } from '../../affected/result.rules.ts';
import type { SharedFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { lampBrightenedKey } from '../light/lamp-changes.ts';
import { rackKey } from '../shared/group-by-rack.ts';
import { lotsWords } from '../shared/place-words.ts';
import { jumpBehind, jumpKeys, jumpSteps, jumpWhy } from '../shared/water-jump.ts';
import { dateOfDay, figure } from '../shared/words.ts';
import { urgencyOf } from './urgency.ts';

const parameters = {
  chance: {
    label: 'Alert when chance alone does as much in fewer of 1,000 cases than',
    unit: '',
    default: 10,
    low: 1,
    high: 10,
    source: 'own choice, tuned on simulated farms (npm run bench:losses)',
  },
} as const;

const rule = 'affected-share';

const keyOf = ({ systemId, sign }: Pick<SharedFact, 'systemId' | 'sign'>): FindingKey => ({
  rule,
  subject: { type: 'system', id: systemId },
  facet: sign,
});

/** The alerts on what these lots share with others, so that their own are part of them. */
export const sharedBy = ({ shared }: Pick<SystemFacts, 'shared'>, lotIds: readonly string[]): FindingKey[] =>
  shared.filter(({ lots }) => lots.some(({ id }) => lotIds.includes(id))).map(keyOf);

/** Affected lots of a site that have one thing in common more than chance would have it. */
export const affectedShare = defineRule({
  name: rule,
  heading: 'What affected lots share',
  watches:
    'Compares the lots that paled, receded or died within two weeks with all others that were looked at: by place, light, flow, kind, origin, cut, hands and what changed before the first sign. It tells the grouping that stands out most, and only where chance would do as much in fewer than one of a hundred cases.',
  byKind: false,
  parameters,
  quietHours: 24,
  untried: 'It compares the whole site as it stands today; the past is not compared again.',
  ended: () => 'nothing stands out any more among the lots that were affected within two weeks',
  evaluate(facts, settings) {
    const limit = settings().chance / 1000;
    return facts.shared.filter(({ p }) => p < limit).map((shared) => finding(facts, shared));
  },
});

const nameWords = ({ by, name }: { by: string; name: string }): string =>
  `${(groupingWords[by] ?? by).toLowerCase()} ${name}`;

/** What the title may call it; a grouping that is no thing is named beside the figure. */
const thingOf: Readonly<Record<string, string>> = {
  ...{ system: 'system', tank: 'tank', rack: 'rack', kit: 'kit', kind: 'kind', origin: 'origin' },
  ...{ delivery: 'delivery', mother: 'mother', 'cut batch': 'cut', bath: 'bath' },
};

/** What is done first, by what was named. */
const firstStep: Readonly<Record<string, Advice>> = {
  'cut batch': measure(
    'Look at the other lots of this cut first. Ask who cut them, with what, and what dip they had.',
  ),
  'cut by': measure('Ask what was done otherwise at these cuts: blade, dip, minutes out of water.'),
  mother: measure('Look at the lot they were cut from, and at its other cuts.'),
  delivery: measure('Look at every lot of this delivery. Keep it apart from the others.'),
  origin: measure('Look at every lot of this origin. Keep new ones apart.'),
  bath: measure('Compare the bath with its label: dose, minutes, what must not be treated.'),
  lamps: measure('Measure the light under these lamps.'),
  light: measure('Measure the light where they are.'),
  rack: measure('Look at this rack: light, flow, what drips or falls on it.'),
  tank: measure('Look at this tank: flow, temperature, equipment, what went into it.'),
  system: measure('Test this water now. Ask what went into or over it.'),
  water: measure('Test this water now, beginning with what was done to it.'),
  kit: measure('Check this kit against a standard, then test again.'),
  flow: measure('Look at the pumps over these lots.'),
};

/** What is told of too much light already explains what pale lots share. */
const lightKeys = ({ lampId, rackIds }: SharedFact): FindingKey[] => [
  ...(lampId === null ? [] : [lampBrightenedKey(lampId)]),
  ...rackIds.map((id) => rackKey('too-much-light', id)),
];

function finding(facts: SystemFacts, shared: SharedFact): Finding {
  const { by, name, same, affectedIn, totalIn, affectedOut, totalOut, p, lots } = shared;
  const here = facts.lots.filter(({ id }) => lots.some((one) => one.id === id));
  const firstSeen = lots.map((lot) => lot.firstSeen).sort()[0] ?? shared.at;
  const perThousand = numberWords(1000 * p, 1);
  const jump =
    shared.sign === 'pale'
      ? (here.map((lot) => jumpBehind(facts, lot)).find((one) => one !== null) ?? null)
      : null;
  return {
    ...plainFinding,
    ...keyOf({ systemId: facts.systemId, sign: shared.sign }),
    systemId: facts.systemId,
    href: '/affected',
    status: 'fires',
    severity: mostUrgent(['today', ...here.map((lot) => urgencyOf(lot))]),
    score: affectedIn,
    title: `${facts.name}: ${shared.sign === 'pale' ? 'pale lots' : 'lots losing flesh'} share one ${thingOf[by] ?? 'thing'}`,
    numbers: `${nameWords({ by, name })}: ${affectedIn} of ${totalIn} affected, ${affectedOut} of ${totalOut} elsewhere`,
    number: figure('Affected lots that share it', affectedIn, 0),
    limit: { ...figure('As much by accident, of a thousand', 1000 * p, 1), source: parameters.chance.source },
    large: {
      text: `${affectedIn} of ${totalIn}`,
      unit: 'lots',
      more: thingOf[by] === undefined ? (groupingWords[by] ?? by) : '',
    },
    began: null,
    figures: [
      { label: groupingWords[by] ?? by, text: name },
      { label: 'In it', text: `${affectedIn} of ${lotsWords(totalIn)} affected` },
      { label: 'All others', text: `${affectedOut} of ${lotsWords(totalOut)} affected` },
      { label: 'By accident', text: `chance does as much in about ${perThousand} of a thousand cases` },
      { label: 'First seen', text: dateOfDay(dayOf(new Date(firstSeen)), facts) },
      ...(same.length === 0
        ? []
        : [{ label: 'The same lots are', text: same.map((one) => nameWords(one)).join('; ') }]),
    ],
    why: `It is where to look first, not yet a proven cause. Only what was so before the first sign was compared.${jump === null ? '' : ` ${jumpWhy(facts, jump)}`}`,
    ...advised(
      ...(jump === null
        ? [isolate(`Keep these ${plural(affectedIn, 'lot', 'lots')} apart, with tools of their own.`)]
        : jumpSteps.map((step) => ({
            ...step,
            text: 'Leave these lots where they are until the water is steady.',
          }))),
      noted(firstStep[by] ?? measure('Look at what they share.'), 'The page shows the whole comparison.'),
      again('Look at all lots of this group tomorrow.'),
    ),
    evidence: here.flatMap(({ code, conditions }) => {
      const [last] = conditions;
      return last === undefined
        ? []
        : [
            {
              kind: 'condition' as const,
              id: last.id,
              at: last.at,
              text: `${code}: ${last.state.replaceAll('_', ' ')}`,
              note: last.note,
            },
          ];
    }),
    lots: lots.map(({ id }) => id),
    causes: shared.sign === 'pale' ? [...jumpKeys(facts, jump), ...lightKeys(shared)] : [],
  };
}
