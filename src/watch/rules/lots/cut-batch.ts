import {
  type Advice,
  advised,
  again,
  correct,
  done,
  isolate,
  measure,
  noted,
  people,
} from '../../../alerts/advice.ts';
import { type Finding, type FindingKey, mostUrgent, plainFinding } from '../../../alerts/finding.ts';
import { localDay } from '../../../platform/days.ts';
import { memoizeWith } from '../../../platform/memoize.ts';
import { andWords } from '../../../platform/words/lists.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { exactTest } from '../../../science/scan/exact.ts';
import {
  type ConditionFact,
  type GoneLotFact,
  type LotFact,
  momentOfDay,
  type SystemFacts,
} from '../../facts/types.ts';
import type { ParameterSet } from '../../rule-definition/parameters.ts';
import { defineRule, type SettingsFor } from '../../rule-definition/rule.ts';
import { conditionInSentence, signSince } from '../shared/conditions.ts';
import { lotName, lotsWords } from '../shared/place-words.ts';
import { dateOfDay, figure } from '../shared/words.ts';
import { urgencyOf } from './urgency.ts';
import { waterKnown } from './water-known.ts';

const parameters = {
  within: {
    label: 'A cut may be why flesh is lost for',
    unit: 'd',
    default: 21,
    low: 3,
    high: 60,
    source:
      'own choice: what rots from a wound shows within three weeks; wounds take months to close (PLoS ONE 2013)',
  },
  chance: {
    label: 'Told together when chance alone does as much in fewer of 1,000 cases than',
    unit: '',
    default: 50,
    low: 1,
    high: 200,
    source: 'own choice: where to look first, by the exact test of Fisher (1934)',
  },
} as const;

const rule = 'cut-batch';
/** One lot by itself says nothing of the others. */
const fewest = 2;
/** From so many lots on it is act now, as of flesh loss in one water. Own choice. */
const many = 3;
/** Told anew for so long after the last of them began; flesh that is gone takes months to come back. Own choice, days. */
const opensWithin = 14;

/** Lots cut on one day of which several lose flesh, and few others do. */
export const cutBatch = defineRule({
  name: rule,
  heading: 'Cut that heals badly',
  watches:
    'Lots cut on one day share blade, dip and hands. When several of them begin to lose flesh within weeks of the cut, and others here do not as often, it is one matter of that cut. Cuts count as they are logged.',
  byKind: false,
  parameters,
  quietHours: 24,
  ended: (facts, { finding }) => {
    const left = facts.lots.filter(({ id }) => finding.lots.includes(id));
    if (left.length === 0) return 'those that lost flesh are gone from here';
    const ill = left.filter(({ conditions: [latest] }) => latest?.state === 'receding').length;
    return ill === 0
      ? 'none of them loses flesh any more, by its last look'
      : `${lotsWords(ill)} of this cut still ${ill === 1 ? 'loses' : 'lose'} flesh, but so do others, or too few for chance to be ruled out`;
  },
  evaluate(facts, settings, now) {
    return losingBatches(facts, settings)
      .filter(({ losing }) => losing.some(({ lot }) => stands(lot)))
      .map((batch) => finding(facts, batch, now));
  },
});

interface Cut {
  lot: LotFact | GoneLotFact;
  /** Its last look and when it was first seen so, where it loses flesh since the cut; null where it does not. */
  loses: { last: ConditionFact; began: number } | null;
}

type Losing = Cut & { loses: NonNullable<Cut['loses']> };

/** The lots of one day's cutting. */
interface Batch {
  /** The local day, ISO 8601. */
  on: string;
  day: number;
  cuts: readonly Cut[];
  losing: readonly Losing[];
  /** Lots of this water that were not cut on that day, and how many of them lose flesh. */
  others: { all: number; losing: number };
  /** Whether a lot loses flesh that is not one of `losing`: one of the others, or one of the cut that did before it. */
  othersLose: boolean;
}

const stands = (lot: Cut['lot']): lot is LotFact => !('leftDay' in lot);
const isLosing = ({ state }: Pick<ConditionFact, 'state'>): boolean =>
  state === 'receding' || state === 'lost';

/** Of a lot that began to lose flesh within so many days of its cut. */
function losesSinceCut({ conditions }: Cut['lot'], cutDay: number, within: number): Cut['loses'] {
  const latest = signSince({ conditions }, ['receding', 'lost'], cutDay);
  if (latest === null) return null;
  const good = conditions.findIndex(({ state }) => state === 'well');
  const first = conditions.slice(0, good === -1 ? undefined : good).findLast(isLosing) ?? latest;
  return first.day - cutDay <= within ? { last: latest, began: first.day } : null;
}

/** The cutting of each day of which a lot loses flesh since. Kept with the facts. */
const batchesOf = memoizeWith(
  (facts: SystemFacts, _: number) => facts,
  (facts, within): readonly Batch[] => {
    const lots: readonly Cut['lot'][] = [...facts.lots, ...facts.goneLots];
    const ill = new Set(lots.filter(({ conditions: [latest] }) => latest !== undefined && isLosing(latest)));
    if (ill.size === 0) return [];
    const cuts = lots.flatMap((lot) =>
      lot.cutDay === null ? [] : [{ lot, day: lot.cutDay, loses: losesSinceCut(lot, lot.cutDay, within) }],
    );
    const byDay = Map.groupBy(cuts, ({ day }) => localDay(momentOfDay(day), facts.timeZone));
    const batches = [...byDay].map(([on, own]): Batch => {
      const losing = own.filter((one): one is typeof one & Losing => one.loses !== null);
      const illOfCut = own.filter(({ lot }) => ill.has(lot)).length;
      return {
        ...{ on, day: own[0]?.day ?? 0, cuts: own, losing },
        others: { all: lots.length - own.length, losing: ill.size - illOfCut },
        othersLose: ill.size > losing.length,
      };
    });
    return batches.filter(({ losing }) => losing.length > 0);
  },
);

/** The batches that lose flesh together, more than the other lots of this water do. */
function losingBatches(facts: SystemFacts, settings: SettingsFor<typeof parameters>): Batch[] {
  const { within, chance } = settings();
  return batchesOf(facts, within).filter(
    (batch) => batch.losing.length >= fewest && chanceOf(batch) < chance / 1000,
  );
}

/** How often chance alone would have as many of a batch among those that lose flesh. */
const chanceOf = ({ cuts, losing, others }: Batch): number =>
  exactTest({
    ...{ affectedIn: losing.length, totalIn: cuts.length },
    ...{ affectedOut: others.losing, totalOut: others.all },
  }).greater;

const keyOf = (systemId: string, { on }: Batch): FindingKey => ({
  rule,
  subject: { type: 'system', id: systemId },
  facet: on,
});

/** The alerts on cuts that tell of a lot already. */
export const cutBatchesOf = (
  facts: SystemFacts,
  lot: Pick<LotFact, 'id'>,
  { of }: Pick<SettingsFor<ParameterSet>, 'of'>,
): FindingKey[] =>
  losingBatches(facts, of(cutBatch))
    .filter(({ losing }) => losing.some((one) => one.lot.id === lot.id))
    .map((batch) => keyOf(facts.systemId, batch));

/** Whether two lots lose flesh since one day's cutting: what they share is the cut before it is the water. */
export const isOfOneCut = (facts: SystemFacts, a: Pick<LotFact, 'id'>, b: Pick<LotFact, 'id'>): boolean =>
  batchesOf(facts, parameters.within.default).some(({ losing }) =>
    [a, b].every(({ id }) => losing.some(({ lot }) => lot.id === id)),
  );

/** Lots of a batch that stand here, do not lose flesh, and were not looked at since the first of it was seen so. */
function matesToSee({ cuts, losing }: Batch): LotFact[] {
  const since = Math.min(...losing.map(({ loses }) => loses.began));
  return cuts.flatMap(({ lot, loses }) =>
    loses === null && stands(lot) && (lot.conditions[0]?.day ?? 0) < since ? [lot] : [],
  );
}

/** A cut that may be why a lot loses flesh: it began soon after, its water is in order, and none but its batch loses flesh. */
export function cutBehind(
  facts: SystemFacts,
  { id }: Pick<LotFact, 'id'>,
  { of }: Pick<SettingsFor<ParameterSet>, 'of'>,
  now: Date,
): { day: number; mates: readonly LotFact[] } | null {
  const batches = batchesOf(facts, of(cutBatch)().within);
  const batch = batches.find(({ losing }) => losing.some(({ lot }) => lot.id === id));
  if (batch === undefined || batch.othersLose || waterKnown(facts, now).left.length > 0) return null;
  return { day: batch.day, mates: matesToSee(batch) };
}

/** What is done about cuts that lose flesh (common practice): apart, the dead flesh off, the others of the cut looked at. */
export const cutSteps = (mates: readonly LotFact[]): Advice[] => [
  people('Wear gloves and goggles: some corals hold poisons, and saws and chips cut.'),
  isolate(
    'Take what loses flesh into water of its own today, with tools of its own. See to healthy ones first.',
    done('apart'),
  ),
  noted(
    correct('See to these cuts there: take off dead flesh, rinse, and dip them as fresh cuts are.'),
    'By the label of the dip; what it must not be used on stands there too.',
  ),
  ...(mates.length === 0 ? [] : [measure(`Look at ${matesWords(mates)} too: cut on the same day.`)]),
];

const namedMates = 4;
const matesWords = (mates: readonly LotFact[]): string =>
  mates.length > namedMates
    ? `the other ${numberWords(mates.length)} lots of that day`
    : andWords(mates.map(lotName).sort());

function finding(facts: SystemFacts, batch: Batch, now: Date): Finding {
  const newest = Math.max(...batch.losing.map(({ loses }) => loses.began));
  const { cuts, losing, day, others } = batch;
  const here = losing.map(({ lot }) => lot).filter(stands);
  const gone = losing.length - here.length;
  const p = chanceOf(batch);
  const urgency = mostUrgent(['today', ...here.map(urgencyOf)]);
  return {
    ...plainFinding,
    ...keyOf(facts.systemId, batch),
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status: newest > dayOf(now) - opensWithin ? 'fires' : 'stays',
    severity: losing.length >= many ? 'now' : urgency,
    score: losing.length / fewest,
    title: `${facts.name}: ${lotsWords(losing.length)} of one cut lose flesh`,
    numbers: `cut on ${dateOfDay(day, facts)}: ${losing.length} of ${lotsWords(cuts.length)}, and ${others.losing} of ${others.all} others`,
    number: figure('Lots of this cut that lose flesh', losing.length, 0),
    limit: { ...figure('Told together from', fewest, 0), source: parameters.chance.source },
    large: {
      text: `${losing.length} of ${cuts.length}`,
      unit: 'lots',
      more: `cut on ${dateOfDay(day, facts)}`,
    },
    figures: [
      { label: 'Cut on', text: dateOfDay(day, facts) },
      {
        label: 'By accident',
        text: `chance does as much in about ${numberWords(1000 * p, 1)} of a thousand cases`,
      },
      ...(gone === 0 ? [] : [{ label: 'Gone since', text: `${lotsWords(gone)}, taken out or dead` }]),
    ],
    why: 'They have blade, dip and hands in common. What rots from a wound goes on from lot to lot, and clean water does not stop it.',
    ...advised(...cutSteps(matesToSee(batch)), again('Look at every lot of this cut again in three days.')),
    question: 'Who cut them, with which blade, and what dip did they have?',
    evidence: losing.map(({ lot, loses }) => ({
      ...{ kind: 'condition' as const, id: loses.last.id, at: loses.last.at, note: loses.last.note },
      text: `${lotName(lot)}, ${lot.kindName}, ${stands(lot) ? 'on' : 'gone from'} ${lot.place}: ${conditionInSentence(loses.last)}`,
    })),
    lots: here.map(({ id }) => id),
  };
}
