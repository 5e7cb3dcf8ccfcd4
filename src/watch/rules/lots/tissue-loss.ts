import { advised, again, done, isolate, measure, noted } from '../../../alerts/advice.ts';
import { type Finding, type FindingKey, plainFinding } from '../../../alerts/finding.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import { memoize } from '../../../platform/memoize.ts';
import { andWords } from '../../../platform/words/lists.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { ASSUMED_PITCH_MM } from '../../../stock/places/reach.rules.ts';
import type { ConditionFact, GoneLotFact, LotFact, SystemFacts } from '../../facts/types.ts';
import type { ParameterSet, Values } from '../../rule-definition/parameters.ts';
import { defineRule, type SettingsFor } from '../../rule-definition/rule.ts';
import { reachingPairs } from '../places/neighbour-pairs.ts';
import { conditionInSentence, onsetOf } from '../shared/conditions.ts';
import { lotName, lotsWords, whereWords } from '../shared/place-words.ts';
import { illnessOf, wellApart } from '../shared/recovery.ts';
import { dateOfDay, figure, nameOf } from '../shared/words.ts';
import { isOfOneCut } from './cut-batch.ts';
import { fastLoss } from './fast-loss.ts';

const parameters = {
  lots: {
    label: 'Suspect the water from so many unrelated lots',
    unit: '',
    default: 2,
    low: 2,
    high: 10,
    source: 'practice of growers: two unrelated corals within days have the water in common, not an illness',
  },
  within: {
    label: 'When they begin within',
    unit: 'd',
    default: 4,
    low: 1,
    high: 14,
    source: 'own choice: what is in the water shows on several lots within days',
  },
} as const;

const rule = 'tissue-loss';
/** The states of a lot that loses flesh. */
const losing: readonly ConditionState[] = ['receding', 'lost'];
/** Told anew for so long after the last of them began; an open alert stays for longer. Own choice. */
const [opensWithin, staysWithin] = [7, 21];
/** From so many lots on it is act now. Own choice. */
const many = 3;

/** Unrelated lots that lose flesh in one water within days. */
export const tissueLoss = defineRule({
  name: rule,
  heading: 'Flesh loss in one water',
  watches:
    'Lots of different origin that begin to lose flesh in one water within days are one matter of the water. Pieces of one colony, lots of one day’s cutting, lots in a jet and neighbours that reach each other count for one.',
  byKind: false,
  parameters,
  quietHours: 48,
  ended: (facts) => {
    const left = losingLots(facts).length;
    if (left === 0 && facts.goneLots.length > 0)
      return 'those that lost flesh are gone from here, and no other was seen to begin within a week';
    return left === 0
      ? 'no lot here loses flesh any more, by its last look'
      : `${lotsWords(left)} here still ${left === 1 ? 'loses' : 'lose'} flesh, but no longer several that were seen to begin within days`;
  },
  evaluate(facts, settings, now) {
    const lots = losingTogether(facts, settings(), now);
    return lots.length === 0 ? [] : [finding(facts, lots, settings(), now)];
  },
});

/** The key under which a system's flesh loss is told. */
export const tissueLossKey = (systemId: string): FindingKey => ({
  rule,
  subject: { type: 'system', id: systemId },
  facet: '',
});

interface Losing {
  lot: LotFact | GoneLotFact;
  began: number;
  last: ConditionFact;
}

const stands = (lot: Losing['lot']): lot is LotFact => !('leftDay' in lot);

/** Lots that lose flesh now. Kept with the facts. */
const losingLots = memoize((facts: SystemFacts): Losing[] =>
  facts.lots.filter(({ jet }) => !jet).flatMap(losingOf),
);

function losingOf(lot: Losing['lot']): Losing[] {
  const [last] = lot.conditions;
  if (last === undefined || !losing.includes(last.state)) return [];
  const onset = onsetOf(lot.conditions);
  const run = lot.conditions.slice(0, lot.conditions.indexOf(onset?.firstBad ?? last) + 1);
  const first = run.findLast(({ state }) => losing.includes(state)) ?? last;
  return [{ lot, began: lostBefore(lot.conditions, first, last) ?? first.day, last }];
}

/**
 * Since when it lost as much before a look or two at which it was taken for well: flesh comes back over months, so that an old loss
 * comes and goes from look to look. Null where it had come through, or where more is gone than then. Newest first.
 */
function lostBefore(
  conditions: readonly ConditionFact[],
  first: ConditionFact,
  last: ConditionFact,
): number | null {
  const earlier = conditions
    .slice(conditions.indexOf(first) + 1)
    .filter(({ day }) => first.day - day <= wellApart);
  const before = earlier.find(({ state }) => losing.includes(state));
  return before === undefined || illnessOf(last) > illnessOf(before) ? null : before.day;
}

/**
 * Lots that lost flesh here and are gone, taken out or dead: setting them apart, as they should be, does not mend the water. They count
 * for as long as an alert opens.
 */
const losingWhenGone = ({ goneLots }: SystemFacts, now: Date): Losing[] =>
  goneLots.flatMap(losingOf).filter(({ began }) => began > dayOf(now) - opensWithin);

/** The lots that are one matter of the water; none where there are too few unrelated ones. */
function losingTogether(
  facts: SystemFacts,
  { within, lots }: Values<typeof parameters>,
  now: Date,
): Losing[] {
  const recent = [...losingLots(facts), ...losingWhenGone(facts, now)]
    .filter(({ began }) => began > dayOf(now) - staysWithin)
    .sort((a, b) => a.began - b.began);
  const newest = recent.at(-1)?.began ?? 0;
  const together = recent.filter(({ began }) => began >= newest - within);
  return unrelated(facts, together) >= lots ? together : [];
}

/** Whether a lot is told of in the alert on its water, by the numbers that hold in the system. */
export const losesWithOthers = (
  facts: SystemFacts,
  lot: LotFact,
  { of }: Pick<SettingsFor<ParameterSet>, 'of'>,
  now: Date,
): boolean => losingTogether(facts, of(tissueLoss)(), now).some((one) => one.lot.id === lot.id);

/** How many of them have nothing but the water in common. */
function unrelated(facts: SystemFacts, lots: readonly Losing[]): number {
  if (lots.length < 2) return lots.length;
  const reach = new Map(
    [...reachingPairs(facts, ASSUMED_PITCH_MM)].map(([lot, pairs]) => [
      lot.id,
      new Set(pairs.flatMap(({ newcomer, other }) => [newcomer.id, other.id])),
    ]),
  );
  const apart: Losing['lot'][] = [];
  for (const { lot } of lots) {
    const related = apart.some(
      (other) =>
        isFamily(lot, other) ||
        isOfOneOrigin(facts, lot, other) ||
        isOfOneCut(facts, lot, other) ||
        reach.get(lot.id)?.has(other.id) ||
        reach.get(other.id)?.has(lot.id),
    );
    if (!related) apart.push(lot);
  }
  return apart.length;
}

/** What makes lots related wherever they stand: compared with all others, they were found to share it. */
const origins: readonly string[] = ['cut batch', 'cut by', 'mother', 'delivery', 'origin', 'bath', 'kind'];

const isOfOneOrigin = ({ shared }: SystemFacts, a: Losing['lot'], b: Losing['lot']): boolean =>
  shared.some(
    ({ by, lots }) => origins.includes(by) && [a, b].every(({ id }) => lots.some((lot) => lot.id === id)),
  );

const isFamily = (a: Losing['lot'], b: Losing['lot']): boolean =>
  a.parentId === b.id || b.parentId === a.id || (a.parentId !== null && a.parentId === b.parentId);

function finding(
  facts: SystemFacts,
  lots: readonly Losing[],
  values: Values<typeof parameters>,
  now: Date,
): Finding {
  const newest = lots.at(-1)?.began ?? 0;
  const fast = lots.some(({ lot }) => fastLoss(lot.conditions) !== null);
  const standing = lots.map(({ lot }) => lot).filter(stands);
  const racks = new Map(facts.racks.map(({ id, tankName }) => [id, tankName]));
  const tanks = new Set(standing.map((lot) => racks.get(lot.rackId) ?? ''));
  const untested = notTestedSince(facts, dayOf(now) - 1);
  return {
    ...plainFinding,
    ...tissueLossKey(facts.systemId),
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status: newest > dayOf(now) - opensWithin ? 'fires' : 'stays',
    severity: fast || lots.length >= many ? 'now' : 'today',
    score: lots.length / values.lots,
    title: `${facts.name}: ${lotsWords(lots.length)} lose flesh within days`,
    numbers: namedWords(lots.map(({ lot }) => placeWords(lot)).sort()),
    number: figure('Lots that lose flesh', lots.length, 0),
    limit: { ...figure('A matter of the water from', values.lots, 0), source: parameters.lots.source },
    figures: [
      { label: 'Seen losing flesh since', text: sinceText(facts, lots) },
      ...(standing.length < lots.length
        ? [
            {
              label: 'Gone since',
              text: 'taken out or dead: the water they stood in is judged by them for a week',
            },
          ]
        : []),
      { label: 'Kinds', text: [...new Set(lots.map(({ lot }) => lot.kindName))].join(', ') },
      { label: 'Tanks', text: [...tanks].filter((name) => name !== '').join(', ') },
    ],
    why: 'Lots that have nothing in common but the water fail together: look at the water before blaming an illness.',
    ...advised(
      isolate(
        'Isolate today: take each of them into water of its own, with tools of its own. See to healthy lots before those that lose flesh.',
        done('apart'),
      ),
      measure(
        `Test now: ${andWords(untested.length > 0 ? untested.map((code) => nameOf(facts, code)) : ['all of it again, with other kits'])}. Ask what went into or over this water in the last days: doses, food, hands, sprays, new stock, a stopped pump.`,
      ),
      measure('Set nothing else into or out of this water meanwhile.'),
      noted(
        again('Photograph each edge with a ruler now and after 12 and 24 hours.'),
        'Twice as much is act now.',
      ),
    ),
    evidence: lots.map(({ lot, last }) => ({
      kind: 'condition' as const,
      id: last.id,
      at: last.at,
      text: `${lotName(lot)}, ${lot.kindName}, ${stands(lot) ? 'on' : 'gone from'} ${lot.place}: ${conditionInSentence(last)}`,
      note: last.note,
    })),
    lots: standing.map(({ id }) => id),
  };
}

const placeWords = (lot: Losing['lot']): string =>
  stands(lot) ? whereWords(lot) : `${lotName(lot)}, gone from ${lot.place}`;

/** At most so many lots are named beside the title. */
const namedLots = 4;

function namedWords(names: readonly string[]): string {
  const more = names.length - namedLots;
  return more > 0 ? `${names.slice(0, namedLots).join(', ')} and ${more} more` : andWords(names);
}

/** The days on which lots were first seen so; lots of one day are told together, since which of them began first is not known. */
function sinceText(facts: SystemFacts, lots: readonly Losing[]): string {
  const byDay = Map.groupBy(lots, ({ began }) => dateOfDay(began, facts));
  return [...byDay]
    .map(([day, some]) => `${day}: ${andWords(some.map(({ lot }) => lotName(lot)).sort())}`)
    .join('; ');
}

/** What is tested before an illness is blamed. */
const asked = ['alkalinity', 'salinity', 'temperature', 'ph', 'ammonia', 'oxygen', 'nitrate', 'phosphate'];

const notTestedSince = ({ readings, quantities }: SystemFacts, day: number): string[] =>
  asked.filter((code) => quantities.has(code) && !(readings.get(code) ?? []).some((one) => one.day >= day));
